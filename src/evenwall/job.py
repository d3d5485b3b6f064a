"""The whole job on one page: a piece, its mold, the resin and the shop today -> shots -> the wall they make."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from evenwall.errors import SolverError
from evenwall.film.coat import never
from evenwall.film.fluid import fluid_of
from evenwall.film.run import forecast_of
from evenwall.film.sag import settled_at
from evenwall.film.state import Brushed, FilmForecast, Shot
from evenwall.geometry.remesh import evened
from evenwall.plan.board import BoardSkin, board_notes, board_skin
from evenwall.plan.brush import Brush, brush_coat
from evenwall.plan.casting_job import Job as Job
from evenwall.plan.casting_job import Mold as Mold
from evenwall.plan.casting_job import Piece as Piece
from evenwall.plan.casting_job import Shop as Shop
from evenwall.plan.casting_job import Turning as Turning
from evenwall.plan.cautions import Caution, cautions_for, cautions_today
from evenwall.plan.clock import CoatClock
from evenwall.plan.costs import Cost, casting_cost
from evenwall.plan.course import Course, Rehearsal, conditions, course, film_setting, refuse_thrown
from evenwall.plan.course import handling as handling
from evenwall.plan.course import throws as throws
from evenwall.plan.hand import InHand, piece_in_hand
from evenwall.plan.program import Program
from evenwall.plan.rehearsal import rehearse
from evenwall.plan.resin_today import how_sure
from evenwall.plan.resting import RestingPose, leaving, resting_pose
from evenwall.plan.shots import cavity_measures, propose, untried
from evenwall.plan.sureness import Sureness, called
from evenwall.plan.weighout import (
    BRUSH_COAT,
    Order,
    ShotAmounts,
    WeighOut,
    brush_mass,
    cleaning_mass,
    least_mass,
)
from evenwall.resin.curves import Curves, curves
from evenwall.resin.typical import unmeasured
from evenwall.turning import patterns

Progress = Callable[[float, str], None]
Stop = Callable[[], bool]

FINENESS: Final = {"quick": 2_500, "fine": 10_000, "finest": 20_000}  # nodes of a forecast
HANDS_PER_COAT: Final = (
    240.0  # weighing, unclamping and wiping for each coat [s] (common practice, no source)
)
HANDS_PER_CASTING: Final = 1200.0  # release, brush, demold, trim and clean [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class PlannedShot:
    """One coat's shot of the plan."""

    name: str  # e.g. "coat 2 of 3"
    weigh: ShotAmounts
    coat: float  # mean thickness it makes [m]
    clock: CoatClock  # its times
    shot: Shot  # as the film's forecast takes it
    turn_until: float  # earliest stop of the turning after which nothing sags [s from its mixing]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What to do, what it gives, what it costs, and why it is so."""

    shots: tuple[PlannedShot, ...]  # the coats
    weigh_out: WeighOut  # every cup: brush, cleaning shot and coats in the order of use
    before: tuple[CoatClock, ...]  # times of cleaning shot and brush coat, where there are such
    brush: Brush  # narrow places to brush first
    pose: RestingPose | None  # of the mold while the brushed resin gels; None where nothing is brushed
    program: Program  # turning of the first coat; the later ones go the same way
    open_after: float  # first opening, from the last coat's mixing [s]
    sure: Sureness  # how sure these times are
    curves: Curves  # first coat's resin in its cup and on the wall
    board: BoardSkin | None  # what sets on the closing board or plug; None where there is none
    hand: InHand  # the piece in the hand
    forecast: FilmForecast  # the quick one that the shots were tried by
    cost: Cost
    cautions: tuple[Caution, ...]
    reasons: tuple[str, ...]  # what was changed, refused or is doubtful, a sentence each
    assumed: tuple[str, ...]  # values that nobody measured, a sentence each


def plan(
    job: Job, *, nodes: int = FINENESS["quick"], progress: Progress | None = None, stop: Stop | None = None
) -> Plan:
    """Shots, times, turning and cost for the job's wanted wall, tried by quick forecasts.

    Raises PlanError, in one sentence with the lever that helps, where no such casting can be made, StoppedError
    where a stop comes before a first coat was tried.
    """
    refuse_thrown(job)
    cavity = cavity_measures(job.piece.surface)
    brush = brush_coat(job.piece.surface, stop=stop)
    extras = _extra_orders(job, brush, cavity.area)
    coats, volumes = untried(cavity, job.wish)
    course(job, coats, volumes, before=extras, strict=True)  # refuses before anything is computed
    wall = evened(job.piece.surface, nodes=nodes, stop=stop)
    even = replace(job, piece=replace(job.piece, surface=wall))  # one mesh for all trials
    rehearsal = rehearse(even, coats[0], volumes[0], nodes=nodes // 2, progress=progress, stop=stop)
    pose = _pose(job, brush, nodes, stop)
    layer = _layer(job, brush, pose)
    tries = 0
    left_out: list[str] = []

    def trial(volumes: tuple[float, ...]) -> FilmForecast:
        nonlocal tries, layer
        tries += 1
        said = f"try {tries}: "
        coats = tuple(volume / cavity.area for volume in volumes)
        goes = course(job, coats, volumes, before=extras, rehearsal=rehearsal, strict=True)
        told = progress and (lambda share, text: progress(share, said + text))
        try:
            return _wall(even, goes, layer, None, told, stop)
        except SolverError as fault:
            if layer is None:
                raise
            left_out.append(f"the quick forecast leaves the brush coat out, because with it {fault}")
            layer = None
            return _wall(even, goes, None, None, told, stop)

    proposal = propose(cavity, job.wish, trial)
    volumes, coats = proposal.volumes, proposal.coats
    goes = course(
        job,
        coats,
        volumes,
        before=extras,
        thinnest=thinnest(proposal.forecast),
        rehearsal=rehearsal,
        strict=True,
    )
    stops = _stops(job, goes.program, proposal.forecast, coats, rehearsal)
    weighed = goes.weigh_out
    kept = sum(shot.mass - shot.stays for shot in weighed.shots if shot.kind != "cleaning")
    board = board_skin(job.mold, wall_area=cavity.area, mass=kept)
    return Plan(
        shots=tuple(
            PlannedShot(name=amounts.name, weigh=amounts, coat=coat, clock=timed, shot=shot, turn_until=until)
            for amounts, coat, timed, shot, until in zip(
                weighed.shots[-len(volumes) :], coats, goes.clock.coats, goes.shots, stops, strict=True
            )
        ),
        weigh_out=weighed,
        before=goes.clock.before,
        brush=brush,
        pose=pose,
        program=goes.program,
        open_after=goes.clock.open_after,
        sure=how_sure(job, goes.layers),
        curves=curves(job.resin, goes.story),
        board=board,
        hand=piece_in_hand(job.resin, proposal.forecast, weight=kept - (board.trimmed if board else 0.0)),
        forecast=proposal.forecast,
        cost=_cost(job, weighed, cavity.volume),
        cautions=(
            *cautions_for(sealed=job.mold.sealed, opening=job.mold.opening, push=air_push(proposal.forecast)),
            *cautions_today(job.resin, conditions(job), goes.clock, wall=sum(coats)),
        ),
        reasons=(
            *proposal.reasons,
            *(said for said in (rehearsal.why, rehearsal.hands) if said),
            *goes.program.notes,
            *leaving(pose),
            *left_out,
            *board_notes(board),
        ),
        assumed=assumptions(job),
    )


def forecast(
    job: Job,
    planned: Plan | None = None,
    *,
    nodes: int = FINENESS["fine"],
    stop_turning: float | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The wall that the planned shots, or the job's own ones, make on the job's piece.

    `stop_turning` [s] after each mixing the mold comes to rest, whatever the job says. Without a plan the
    job's own shots (`wish.volumes`) are taken, or untried ones for its wall. Turning that throws the liquid
    gives its surface at rest (history "spun"). The narrow places are brushed first where the job says so.
    progress(share done, what is being done) is called a few times
    a second; stop() true ends the run within a second, and what was computed is kept.
    """
    if planned is not None:
        volumes = tuple(s.shot.volume for s in planned.shots)
        coats = tuple(s.coat for s in planned.shots)
    else:
        coats, volumes = untried(cavity_measures(job.piece.surface), job.wish)
    if stop_turning is not None:
        job = replace(job, turning=replace(job.turning, stop_after=stop_turning))
    goes = course(job, coats, volumes, program=planned.program if planned else None)
    brush, pose = (planned.brush, planned.pose) if planned else _brushed(job, nodes, stop)
    return _wall(job, goes, _layer(job, brush, pose), nodes, progress, stop)


def assumptions(job: Job) -> tuple[str, ...]:
    """Values that the plan stands on and nobody measured."""
    said = [
        f"{called(name)}: {value.pedigree} ({value.source})" for name, value in unmeasured(job.resin.sheet)
    ]
    if job.piece.stand_in:
        said.insert(0, "shape: no scan, a stand-in of the same area, volume and slenderness")
    return tuple(said)


def _extra_orders(job: Job, brush: Brush, area: float) -> list[Order]:
    """Brush coat and cleaning shot, never less than the scale can weigh in ratio; not tinted but the brush coat."""
    least = least_mass(job.resin, job.shop.scale_step) / (1.0 - job.resin.filler_share)
    orders = []
    if job.cleaning_shot:
        mass = max(least, cleaning_mass(job.resin, area))
        orders.append(Order(name="cleaning shot", kind="cleaning", mass=mass, tinted=False))
    if job.brush and brush.area > 0.0:
        mass = max(least, brush_mass(job.resin, brush.area))
        orders.append(Order(name="brush coat", kind="brush", mass=mass))
    return orders


def air_push(forecast: FilmForecast) -> float:
    """What the shut-in air pushes the closing with at most [N], of all coats."""
    return max((coat.air_push for coat in forecast.coats), default=0.0)


def thinnest(forecast: FilmForecast) -> float:
    """How thick the last coat's thin places are over its mean [-]: the coolest, which opening must wait for."""
    last = forecast.coats[-1].figures if forecast.coats else forecast.figures
    return min(1.0, last.p05 / last.mean) if last.mean > 0.0 else 1.0


def _brushed(job: Job, nodes: int, stop: Stop | None) -> tuple[Brush | None, RestingPose | None]:
    """What is brushed and how it rests, for a forecast without a plan."""
    if not job.brush or throws(job):
        return None, None
    brush = brush_coat(job.piece.surface, stop=stop)
    return brush, _pose(job, brush, nodes, stop)


def _pose(job: Job, brush: Brush, nodes: int, stop: Stop | None) -> RestingPose | None:
    layer = _layer(job, brush, None)
    if layer is None:
        return None
    return resting_pose(film_setting(job, patterns.still(), ()), layer, nodes=nodes, stop=stop or never)


def _layer(job: Job, brush: Brush | None, pose: RestingPose | None) -> Brushed | None:
    """The brushed resin as the film takes it; None where nothing is brushed."""
    if brush is None or not job.brush or not brush.area > 0.0:
        return None
    return Brushed(
        marked=brush.looked_at,
        marks=brush.marks,
        thickness=BRUSH_COAT,
        temperature=job.shop.resin,
        laid_after=job.shop.stir + 0.5 * job.shop.brush,  # halfway through the brushing
        frame_angle=pose.frame_angle if pose else 0.0,
        cradle_angle=pose.cradle_angle if pose else 0.0,
    )


def _stops(
    job: Job, program: Program, film: FilmForecast, coats: Sequence[float], rehearsal: Rehearsal
) -> tuple[float, ...]:
    """When the turning of each coat may stop [s from its mixing]; of the first as its program says."""
    fluid = fluid_of(job.resin)
    later = [
        settled_at(coat.history, fluid, thickness=thick, run=rehearsal.settled_run)
        for coat, thick in zip(film.coats[1:], coats[1:], strict=False)
    ]
    missing = len(coats) - 1 - len(later)  # of a stopped forecast
    return (program.stop, *(min(one, program.stop) for one in later), *(program.stop for _ in range(missing)))


def _wall(
    job: Job,
    goes: Course,
    layer: Brushed | None,
    nodes: int | None,
    progress: Progress | None,
    stop: Stop | None,
) -> FilmForecast:
    return forecast_of(
        job.piece.surface,
        film_setting(job, goes.motion, goes.shots, brushed=layer),
        least=job.wish.least,
        sides=job.piece.sides,
        nodes=nodes,
        progress=progress,
        stop=stop,
    )


def _cost(job: Job, weighed: WeighOut, cavity_volume: float) -> Cost:
    return casting_cost(
        job.prices,
        resin_mass=weighed.a + weighed.b,
        pigment_mass=weighed.pigment,
        filler_mass=weighed.filler,
        hands_time=HANDS_PER_CASTING + HANDS_PER_COAT * len(weighed.shots),
        solid_mass=cavity_volume * job.resin.density,
    )
