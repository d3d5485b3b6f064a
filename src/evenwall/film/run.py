"""A forecast of the wall: the piece's wall, a resin, a motion and some shots -> coat after coat, with its band."""

from __future__ import annotations

import time
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from evenwall.errors import InputError, MeshError, MotionError
from evenwall.film.chain import Chain, Setting, run_chain
from evenwall.film.coat import Progress, Stop, isothermal_gel, never, no_progress
from evenwall.film.findings import averaging, figures
from evenwall.film.fluid import fluid_of
from evenwall.film.operators import inward_normals, node_areas
from evenwall.film.results import apart, with_uncertainty
from evenwall.film.sequence import Scout
from evenwall.film.spin import Spun, potential, spun_surface
from evenwall.film.state import FilmForecast, Floats, Rubber, Shot
from evenwall.geometry.remesh import remesh
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, is_closed
from evenwall.resin.data import Resin
from evenwall.turning.kinematics import GRAVITY, Motion, angular_velocity, gravity

COARSER: Final = 4  # the second mesh has so many times fewer nodes
COARSEST: Final = 1000  # but not fewer than this
COARSE: Final = 2500  # and not more than this
CENTRIFUGAL_LIMIT: Final = 1.0  # centrifugal over gravity above which the film model ends []
INSTANTS: Final = 400  # of the turning that the thrown liquid's rest is averaged over
ROOM: Final = 295.15  # [K]

ASSUMPTIONS: Final = (
    "The resin wets the mold perfectly and dry wall gives it no resistance.",
    "The film flows as a thin layer: inertia and Coriolis forces of the liquid are left out.",
    "Liquid in a deep pool moves at most as fast as a pool of its own depth would under a bounded mobility.",
    "Conversion and temperature are even across the film's thickness.",
    "Heat leaves through the rubber only; the air in the cavity holds next to none.",
    "The mix keeps its heat in the cup until it is poured.",
    "The resin neither shrinks nor foams on the wall.",
)


def forecast(
    wall: Surface,
    resin: Resin,
    motion: Motion,
    shots: tuple[Shot, ...],
    *,
    rubber: Rubber = Rubber(),
    mold_temperature: float = ROOM,
    air_temperature: float = ROOM,
    crossing: ArrayLike = (0.0, 0.0, 0.0),
    nodes: int | None = None,
    second_mesh: bool = True,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The wall that `shots` leave on the closed `wall` while the mold goes through `motion`.

    The motion's clock starts at each shot's pour. `crossing` (3,) [m] is where the axes cross, in mold axes;
    temperatures in [K]. With `nodes` the wall is remeshed to about so many; without, it is taken as it is.
    A second, coarser mesh gives each figure's uncertainty (`second_mesh=False` leaves it out, figures then
    have no band). progress(share [], text) is called about every 0.2 s, stop() is asked as often; a stop keeps
    what was done. Raises MeshError for an open wall, InputError for a shot that does not fit, ResinError for a
    resin that never gels, MotionError above the stated centrifugal ratio, SolverError where no step succeeds.
    """
    began = time.perf_counter()
    tell, asked = progress or no_progress, stop or never
    cross = np.asarray(crossing, dtype=np.float64).reshape(3)
    setting = Setting(
        fluid=fluid_of(resin),
        heat_limit=resin.heat_limit,
        motion=Motion(*(np.ascontiguousarray(part, dtype=np.float64) for part in motion)),
        shots=shots,
        rubber=rubber,
        mold_temperature=mold_temperature,
        air_temperature=air_temperature,
        crossing=(float(cross[0]), float(cross[1]), float(cross[2])),
    )
    _check(wall, setting)
    fine = remesh(wall, nodes=nodes).surface if nodes is not None else wall
    count = len(fine.vertices)
    few = int(np.clip(count // COARSER, COARSEST, COARSE))
    other: Chain | None = None
    share = 0.0
    scout = Scout()
    if second_mesh and few < 0.7 * count:
        share = _cost_share(few, count)
        coarse = remesh(fine, nodes=few).surface
        other = run_chain(
            coarse,
            setting,
            runner=scout.look,
            progress=lambda done, text: tell(share * done, f"coarse mesh, {text}"),
            stop=asked,
        )
    chain = run_chain(
        fine,
        setting,
        runner=scout.follow,
        progress=lambda done, text: tell(share + (1.0 - share) * done, text),
        stop=asked,
    )
    return _gathered(chain, other, began, " ".join(scout.reasons))


def _check(wall: Surface, setting: Setting) -> None:
    """One clear sentence for what can't be computed."""
    if not is_closed(wall):
        raise MeshError("the wall is open and a forecast needs it closed: cap or fill it first")
    hollow = enclosed(wall)
    if not setting.shots:
        raise InputError("there is no shot to forecast: give at least one")
    left = hollow
    for number, shot in enumerate(setting.shots, 1):
        if not shot.volume > 0.0:
            raise InputError(f"shot {number} holds {shot.volume * 1e6:g} mL where it must be above 0")
        if shot.volume >= left:
            raise InputError(
                f"shot {number} of {len(setting.shots)} is {shot.volume * 1e6:.0f} mL where"
                f" {left * 1e6:.0f} mL of the cavity are left: pour less"
            )
        left -= shot.volume
    gel = isothermal_gel(setting.fluid, setting.mold_temperature)
    ratio = centrifugal_ratio(wall.vertices, setting.motion, setting.crossing, until=gel)
    if ratio > CENTRIFUGAL_LIMIT:
        spun = thrown(wall, setting.shots[0].volume, setting.motion, setting.crossing, until=gel)
        raise MotionError(
            f"turning throws the liquid outward with {ratio:.1f} times its weight where the film's model ends at"
            f" {CENTRIFUGAL_LIMIT:g}: it would lie against the walls farthest from the axes and leave"
            f" {100.0 * (1.0 - spun.wetted):.0f} % of the wall bare, so turn slower"
        )


def thrown(
    wall: Surface, volume: float, motion: Motion, crossing: tuple[float, float, float], *, until: float
) -> Spun:
    """Where `volume` [m3] comes to rest when fast turning, until [s], throws it against the far walls."""
    times = np.linspace(0.0, until, INSTANTS)
    field = potential(
        np.array([gravity(motion, float(t)) for t in times]),
        np.array([angular_velocity(motion, float(t)) for t in times]),
        crossing=np.asarray(crossing),
    )
    reach = np.full(len(wall.vertices), float(np.ptp(wall.vertices, axis=0).max()))
    return spun_surface(wall, volume, field, areas=node_areas(wall), reach=reach)


def centrifugal_ratio(
    points: Floats, motion: Motion, crossing: tuple[float, float, float], *, until: float
) -> float:
    """Largest centrifugal acceleration over gravity [] at `points` (n, 3) [m] while turning `until` [s]."""
    times = np.unique(np.concatenate([np.linspace(0.0, until, 200), np.minimum(motion.time, until)]))
    arms = points - np.asarray(crossing)
    worst = 0.0
    for t in times[:: max(1, len(times) // 2000)]:
        w = np.asarray(angular_velocity(motion, float(t)))
        spin2 = float(w @ w)
        if spin2 * float(np.linalg.norm(arms, axis=1).max()) > worst * GRAVITY:
            across = np.linalg.norm(np.cross(w, np.cross(w, arms)), axis=1)
            worst = max(worst, float(across.max()) / GRAVITY)
    return worst


def _cost_share(few: int, many: int) -> float:
    return float(few**1.5 / (few**1.5 + many**1.5))


def _gathered(chain: Chain, other: Chain | None, began: float, reason: str) -> FilmForecast:
    """The forecast from its chain and the same on another mesh."""
    build, coats = chain.build, chain.coats
    patches = averaging(build.wall.vertices, inward_normals(build.wall), chain.node_area)
    whole = figures(build.total, chain.node_area, patches)
    compared = other if other is not None and len(other.coats) == len(coats) else None
    band = apart(whole, whole)
    if compared is not None:
        coats = tuple(with_uncertainty(a, b) for a, b in zip(coats, compared.coats, strict=True))
        second = compared.build
        patches = averaging(second.wall.vertices, inward_normals(second.wall), compared.node_area)
        band = apart(whole, figures(second.total, compared.node_area, patches))
    nested = any(coat.coarse_until > 0.0 for coat in coats)
    return FilmForecast(
        wall=build.wall,
        node_area=chain.node_area,
        coats=coats,
        coat_thickness=np.array(build.coats),
        total=build.total,
        figures=whole,
        uncertainty=band,
        volume_error=max(coat.volume_error for coat in coats),
        enclosed_error=build.enclosed_error,
        steps=sum(coat.steps for coat in (*coats, *(other.coats if other else ()))),
        elapsed=time.perf_counter() - began,
        nodes=len(build.wall.vertices),
        history="coarse start" if nested else "full",
        history_reason=reason or "Every step was computed on this mesh.",
        stopped=chain.stopped or (other is not None and other.stopped),
        assumptions=ASSUMPTIONS,
    )
