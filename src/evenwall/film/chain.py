"""Coat after coat on one mesh: each is poured, turned until it gels, rests, and is wall for the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from evenwall.film.air import air_over, air_pushes
from evenwall.film.coat import (
    Checkpoint,
    CoatRun,
    Progress,
    Stop,
    cup_rest,
    isothermal_gel,
    level_pool,
    never,
    no_progress,
    run_coat,
    volumes,
)
from evenwall.film.coats import Build, Covered, bare, brushed, with_coat
from evenwall.film.findings import cut_off_hollow
from evenwall.film.fluid import ALL_TERMS, Fluid, Terms
from evenwall.film.operators import Wall, build_wall, node_areas
from evenwall.film.results import came_to_rest, coat_result
from evenwall.film.rubber import ROOM_COEFFICIENT, Column, new_column, rest, under_coat
from evenwall.film.state import Brushed, Closing, CoatResult, Floats, Rubber, Shot
from evenwall.film.steps import USUAL, Control
from evenwall.film.warming import Outside
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import Motion, gravity
from evenwall.turning.patterns import still

SNAPSHOTS = 60  # remembered of a coat that gels when it is expected to


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What the coats of one casting have in common."""

    fluid: Fluid
    heat_limit: tuple[float, str]  # the least one [K], and whose it is
    motion: Motion  # [s from the pour of each shot]
    shots: tuple[Shot, ...]
    rubber: Rubber
    mold_temperature: float  # [K]
    air_temperature: float  # [K]
    crossing: tuple[float, float, float]  # [m]
    brushed: Brushed | None = None
    closing: Closing = Closing()
    terms: Terms = ALL_TERMS
    control: Control = USUAL


@dataclass(frozen=True, kw_only=True)
class Pour:
    """One shot ready to flow on its wall; times from its own mixing."""

    wall: Wall
    surface: Surface
    volume: Floats  # (n,) [m]
    conversion: float  # []
    temperature: float  # [K]
    motion: Motion  # on the clock of this shot's mixing
    start: float  # [s]
    until: float  # longest run [s]
    column: Column
    snapshots: Floats  # (k,) [s]


Runner = Callable[[int, Pour, Setting, Progress, Stop], tuple[CoatRun, float]]  # run, coarse until [s]


@dataclass(frozen=True, kw_only=True)
class Chain:
    """The coats of one casting on one mesh."""

    build: Build
    brush: CoatResult | None
    coats: tuple[CoatResult, ...]
    node_area: Floats  # of the piece's wall (n,) [m2]
    stopped: bool


def run_plainly(
    index: int, pour: Pour, setting: Setting, progress: Progress, stop: Stop
) -> tuple[CoatRun, float]:
    """The coat from its pour to gel on this one mesh."""
    return run_pour(pour, setting, progress=progress, stop=stop), 0.0


def run_pour(
    pour: Pour,
    setting: Setting,
    *,
    keep: list[Checkpoint] | None = None,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> CoatRun:
    """Lets one shot flow from its pour until it has gelled; `keep` gathers its states on the way."""
    return run_coat(
        pour.wall,
        setting.fluid,
        pour.motion,
        volume=pour.volume,
        start=pour.start,
        until=pour.until,
        temperature=pour.temperature,
        conversion=pour.conversion,
        column=pour.column,
        outside=outside_of(setting),
        terms=setting.terms,
        control=setting.control,
        crossing=setting.crossing,
        snapshots=pour.snapshots,
        keep=keep,
        progress=progress,
        stop=stop,
    )


def outside_of(setting: Setting) -> Outside:
    """What the rubber's outer side meets."""
    return Outside(setting.air_temperature, ROOM_COEFFICIENT, 1.0)


def run_chain(
    surface: Surface,
    setting: Setting,
    *,
    runner: Runner = run_plainly,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> Chain:
    """All shots on this mesh, one after the other; stops early and keeps what was done where `stop` says so."""
    nodes = len(surface.vertices)
    state = _State(bare(surface), new_column(setting.rubber, nodes, temperature=setting.mold_temperature))
    brush: CoatResult | None = None
    if setting.brushed is not None:
        pour, shot = _brushed(surface, setting, setting.brushed, state.column)
        run = run_pour(pour, setting, stop=stop)
        brush, state = _laid(state, pour, run, shot, setting, setting.shots[0].pour_after)
    results: list[CoatResult] = []
    count = len(setting.shots)
    for index, shot in enumerate(setting.shots):
        pour = _poured(state.build.surface, shot, setting, state.column)

        def partly(share: float, text: str, index: int = index) -> None:
            progress((index + share) / count, f"coat {index + 1} of {count}, {text}")

        run, coarse_until = runner(index, pour, setting, partly, stop)
        wait: float | None = None
        if index + 1 < count:
            wait = setting.shots[index + 1].mixed_at + setting.shots[index + 1].pour_after
            wait = max(wait - shot.mixed_at - run.time, 0.0)
        result, state = _laid(state, pour, run, shot, setting, wait, coarse_until=coarse_until)
        results.append(result)
        if run.stopped:
            break
    return Chain(
        build=state.build,
        brush=brush,
        coats=tuple(results),
        node_area=node_areas(surface),
        stopped=any(one.kind == "stopped" for coat in results for one in coat.findings),
    )


class _State(NamedTuple):
    """What the next coat finds."""

    build: Build
    column: Column


def _laid(
    state: _State,
    pour: Pour,
    run: CoatRun,
    shot: Shot,
    setting: Setting,
    wait: float | None,
    *,
    coarse_until: float = 0.0,
) -> tuple[CoatResult, _State]:
    """The coat of a run in figures, and the wall and rubber under it after the `wait` [s]; None after the last coat."""
    layer = shot.volume == 0.0  # brushed on by hand, in the open mold
    poured = float(pour.wall.area @ pour.volume)
    came = None if layer else came_to_rest(pour.motion)
    air = None
    if not (layer or run.stopped):
        air = air_over(pour.surface, poured, run.history, setting.closing, room=setting.air_temperature)
    result = coat_result(
        pour.surface,
        pour.wall,
        run,
        shot=shot,
        poured=poured,
        heat_limit=setting.heat_limit,
        stopped_turning=came,
        coarse_until=coarse_until,
        air=air,
        everywhere=not layer,
    )
    build, covered = with_coat(
        state.build,
        result.thickness,
        volume=float(pour.wall.area @ result.volume),
        areas_of=node_areas,
        last=wait is None,
    )
    top = pour.surface.vertices[
        np.argmin(pour.surface.vertices @ np.asarray(gravity(pour.motion, pour.start)))
    ]
    more = (
        *air_pushes(air, top, board=setting.closing.opening > 0.0),
        *cut_off_hollow(covered.cut_off, covered.cut_off_at),
    )
    result = replace(result, findings=(*result.findings, *more))
    if wait is None:
        return result, _State(build, pour.column)
    return result, _State(build, _rested(pour.wall, run, pour.column, covered, setting, wait))


def _brushed(surface: Surface, setting: Setting, layer: Brushed, column: Column) -> tuple[Pour, Shot]:
    """The layer as it was brushed on, in its pose; its shot has no volume of its own."""
    wall = build_wall(surface, scale=2e-3)
    conversion, warm = cup_rest(setting.fluid, layer.temperature, layer.laid_after)
    slow = isothermal_gel(setting.fluid, min(setting.mold_temperature, layer.temperature))
    thickness = brushed(surface, layer.marked, layer.marks, thickness=layer.thickness)
    until = layer.laid_after + 1.5 * slow + 60.0
    pour = Pour(
        wall=wall,
        surface=surface,
        volume=volumes(wall, thickness),
        conversion=conversion,
        temperature=warm,
        motion=still(frame_angle=layer.frame_angle, cradle_angle=layer.cradle_angle),
        start=layer.laid_after,
        until=until,
        column=column._replace(temperature=column.temperature.copy()),
        snapshots=np.linspace(layer.laid_after, until, SNAPSHOTS),
    )
    return pour, Shot(volume=0.0, temperature=layer.temperature, pour_after=layer.laid_after)


def _area(surface: Surface) -> float:
    return float(node_areas(surface).sum())


def _poured(surface: Surface, shot: Shot, setting: Setting, column: Column) -> Pour:
    """The shot as it lies in the mold when the turning starts."""
    wall = build_wall(surface, scale=max(2e-3, shot.volume / _area(surface)))
    conversion, warm = cup_rest(setting.fluid, shot.temperature, shot.pour_after)
    slow = isothermal_gel(setting.fluid, min(setting.mold_temperature, shot.temperature))
    start = shot.pour_after
    until = start + 1.5 * slow + 60.0
    motion = setting.motion._replace(time=setting.motion.time + start)
    times = start + np.linspace(0.0, 1.0, SNAPSHOTS) ** 1.5 * (until - start)
    came = came_to_rest(motion)
    if came is not None and came < until:
        times = np.union1d(times, [came])
    return Pour(
        wall=wall,
        surface=surface,
        volume=level_pool(wall, shot.volume, gravity(motion, start)),
        conversion=conversion,
        temperature=warm,
        motion=motion,
        start=start,
        until=until,
        column=column._replace(temperature=column.temperature.copy()),
        snapshots=times,
    )


def _rested(
    wall: Wall, run: CoatRun, column: Column, covered: Covered, setting: Setting, wait: float
) -> Column:
    """The rubber and the coat after the wait, as the next shot finds them."""
    film, fluid = run.film, setting.fluid
    volume = film.volume + film.solid
    capacity = fluid.density * fluid.heat_capacity * volume
    conversion = (film.cured + film.solid * film.solid_cured) / np.maximum(volume, 1e-300)
    after, warm, _ = rest(
        column,
        film.solid_temperature,
        np.minimum(conversion, 1.0),
        thickness=run.thickness,
        capacity=capacity,
        conductivity=fluid.conductivity,
        adiabatic_rise=fluid.reaction_heat / fluid.heat_capacity,
        law=fluid.cure,
        duration=wait,
        outside_temperature=setting.air_temperature,
    )
    return under_coat(
        after,
        temperature=warm,
        thickness=run.thickness,
        capacity=capacity,
        conductivity=fluid.conductivity,
        transfer=covered.transfer,
    )
