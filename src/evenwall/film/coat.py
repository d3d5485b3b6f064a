"""One coat: liquid poured on a wall, turned until it has gelled or the time is over."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.errors import InputError, ResinError, SolverError
from evenwall.film.equations import SLOT, thickness_of
from evenwall.film.findings import DRY, pool_limit
from evenwall.film.fluid import ALL_TERMS, Fluid, Terms
from evenwall.film.flux import Film, body_at, new_work
from evenwall.film.implicit import new_system
from evenwall.film.moving import new_trial
from evenwall.film.operators import Wall, volumes_of
from evenwall.film.rubber import Column
from evenwall.film.side_by_side import Steppers, threads_for
from evenwall.film.state import Floats, History
from evenwall.film.stepping import GELLED, PAUSED, STUCK
from evenwall.film.steps import (
    CURED,
    FAILED,
    FLOW,
    FULL,
    LIQUID,
    MEAN,
    PLACES,
    POOL,
    SPIN,
    STEP,
    STEPS,
    TIME,
    USUAL,
    WORST,
    Coating,
    Control,
    Frame,
)
from evenwall.film.warming import Outside, Record, new_record, react
from evenwall.geometry.sums import along, dot
from evenwall.resin.viscosity import viscosity
from evenwall.turning.kinematics import GRAVITY, Motion

Progress = Callable[[float, str], None]  # share done [], what is being done
Stop = Callable[[], bool]  # True: stop soon and keep what was done

CAPILLARY_LENGTHS: Final = 2.0  # deep liquid saturates above so many
UNSATURATED: Final = 3.5e-3  # the same without surface tension [m]
DEEP: Final = (
    2e-3  # mean of a shot above which steps are shorter in proportion, their Courant number in its square [m]
)


@dataclass(frozen=True, kw_only=True)
class CoatRun:
    """A coat on its n nodes as the steps left it."""

    film: Film
    thickness: Floats  # (n,) liquid and gelled [m]
    record: Record
    column: Column | None
    history: History
    time: float  # reached [s]
    gelled: bool
    stopped: bool
    volume_error: float  # relative, against what was poured []
    centrifugal_ratio: float  # largest met []
    failed: int  # steps that had to be repeated shorter
    steps: int
    elapsed: float  # computing time [s]


class Checkpoint(NamedTuple):
    """The whole state of a coat on its way, before anything has gelled."""

    time: float  # [s]
    film: Film
    column: Column
    record: Record


def no_progress(share: float, text: str) -> None:
    """The progress that tells nobody."""


def never() -> bool:
    """The stop that never stops."""
    return False


def run_coat(
    wall: Wall,
    fluid: Fluid,
    motion: Motion,
    *,
    volume: Floats,
    until: float,
    start: float = 0.0,
    temperature: float | Floats = 296.15,
    conversion: float | Floats = 0.0,
    column: Column | None = None,
    outside: Outside | None = None,
    terms: Terms = ALL_TERMS,
    control: Control = USUAL,
    crossing: tuple[float, float, float] = (0.0, 0.0, 0.0),
    snapshots: Floats | None = None,
    record: Record | None = None,
    keep: list[Checkpoint] | None = None,
    threads: int | None = None,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> CoatRun:
    """Lets `volume` (n,) [m] of liquid per wall area flow from `start` to `until` [s], or until it has gelled.

    The motion runs on the same clock. `temperature` [K] and `conversion` [] are the liquid's at the start,
    one number or (n,). With a `column` and `outside` the film exchanges heat with the rubber; without, it
    keeps its temperature. `snapshots` (k,) [s] are the times remembered; `keep` gathers the whole state there,
    and `record` goes on from an earlier part of the run. `threads` 1, 2 or 4 give the same wall; None: as many as
    pay here. Works on any wall, closed or open.
    Raises InputError for volumes below 0, SolverError where no step succeeds.
    Example: a constant fluid and `still()` on a tilted plane is Huppert's slope current.
    """
    n = len(wall.area)
    if volume.shape != (n,) or not np.all(np.isfinite(volume)) or np.any(volume < 0.0):
        raise InputError(f"the liquid has to be {n} volumes per area of at least 0 m, one a node")
    began = time.perf_counter()
    film = new_film(wall, fluid, volume, temperature=temperature, conversion=conversion)
    poured = dot(wall.area, volume)
    mean = poured / float(wall.area.sum())
    frame = Frame(
        motion=motion,
        crossing=crossing,
        knee=saturation_thickness(fluid),
        thick=pool_limit(mean),
    )
    edges = len(wall.tail)
    shorter = min(1.0, DEEP / max(mean, 1e-12))
    control = control._replace(
        turn=control.turn * shorter,
        courant=control.courant * shorter * shorter,
        courant_late=control.courant_late * shorter,
        cure_every=control.cure_every * shorter,
        cure_turn=control.cure_turn * shorter,
        cure_gain=control.cure_gain * shorter,
    )
    coating = Coating(
        wall, film, new_work(n, edges), new_system(wall), new_trial(n, edges), fluid, terms, control, frame
    )
    record = record or new_record(n, temperature=float(np.max(temperature)))
    clock = np.zeros(PLACES)
    clock[FLOW] = np.inf
    clock[[TIME, CURED]] = start
    clock[STEP], clock[LIQUID] = 1e-3, 1.0
    pooled = thicknesses(wall, film.volume) > frame.thick
    clock[POOL] = float((wall.area * film.volume)[pooled].sum()) / poured if poured > 0.0 else 0.0
    clock[FULL] = float(np.any(film.volume >= wall.brim))
    clock[MEAN] = mean
    inner = column if column is not None else _no_column(n)
    around = outside if outside is not None and column is not None else Outside(293.15, 0.0, 0.0)
    times = np.asarray(snapshots if snapshots is not None else np.zeros(0))
    kept: list[_Kept] = []
    first_mean = float(np.mean(conversion))
    pending = [float(t) for t in times if start <= t < until - 1e-6] + [until]
    steppers = Steppers(threads or threads_for(n), tried=threads is None)
    arrays = (coating, inner, around, record, clock)
    status, stopped = PAUSED, False
    with steppers:
        for target in pending:
            while True:
                status = steppers.advance(arrays, target)
                done = (clock[TIME] - start) / (until - start)
                progress(min(max(done, 1.0 - clock[LIQUID]), 1.0), f"{clock[TIME]:.0f} s")
                stopped = stop()
                if status != PAUSED or stopped:
                    break
            if status == STUCK:
                raise _stuck(wall, clock)
            if len(times) and not stopped:
                kept.append(_snapshot(wall, film, frame, clock, first_mean))
                if keep is not None and clock[LIQUID] > 1.0 - 1e-9:
                    keep.append(Checkpoint(float(clock[TIME]), *_copies(film, inner, record)))
            if status == GELLED or stopped:
                break
    held = dot(wall.area, film.volume + film.solid)
    return CoatRun(
        film=film,
        thickness=told_thicknesses(wall, film.volume + film.solid),
        record=record,
        column=column,
        history=_history(kept, n),
        time=float(clock[TIME]),
        gelled=status == GELLED,
        stopped=stopped,
        volume_error=abs(held / poured - 1.0) if poured > 0.0 else 0.0,
        centrifugal_ratio=float(clock[SPIN]),
        failed=int(clock[FAILED]),
        steps=int(clock[STEPS]),
        elapsed=time.perf_counter() - began,
    )


def new_film(
    wall: Wall,
    fluid: Fluid,
    volume: Floats,
    *,
    temperature: float | Floats,
    conversion: float | Floats,
) -> Film:
    """Fresh liquid of `volume` (n,) [m] per wall area at `temperature` [K] and `conversion` []."""
    n = len(wall.area)
    warm = np.broadcast_to(np.asarray(temperature, dtype=np.float64), (n,))
    cured = np.broadcast_to(np.asarray(conversion, dtype=np.float64), (n,))
    thick = viscosity(float(cured.mean()), float(warm.mean()), fluid.viscosity)
    return Film(
        volume=np.array(volume, dtype=np.float64),
        cured=volume * cured,
        heat=volume * warm,
        solid=np.zeros(n),
        solid_thickness=np.zeros(n),
        solid_cured=np.zeros(n),
        solid_temperature=np.array(warm),
        viscosity=np.full(n, thick),
    )


def saturation_thickness(fluid: Fluid) -> float:
    """Thickness [m] above which capillary and overhead terms bend: two capillary lengths."""
    if fluid.surface_tension <= 0.0:
        return UNSATURATED
    return CAPILLARY_LENGTHS * math.sqrt(fluid.surface_tension / (fluid.density * GRAVITY))


def level_pool(wall: Wall, volume: float, down: tuple[float, float, float]) -> Floats:
    """`volume` [m3] as a pool at the lowest place of the wall, (n,) [m] per wall area.

    `down` is the direction of gravity in mold axes. Every node stands as high as makes its pressure that of the
    level: to the level where the wall looks up, to its brim and as far over it as the liquid above presses where it
    is covered. Where no wall is counted opposite, columns stand upright.
    """
    g = np.asarray(down) / np.linalg.norm(down)
    height, upward = -along(wall.x, g), -along(wall.normal, g)
    opposed = np.isfinite(wall.limit)
    brim = np.where(opposed, wall.brim, 0.0)
    top = levels(wall, brim, down)

    def held(level: float) -> Floats:
        under = np.maximum(level - height, 0.0)
        column = volumes_of(under / np.maximum(upward, 1e-9), wall.mean, wall.gauss)
        standing = np.where(level >= top, brim * (under > 0.0) + SLOT * np.maximum(level - top, 0.0), column)
        return np.asarray(np.where(opposed, standing, under * np.maximum(upward, 0.0)))

    low, high = float(height.min()), float(height.max())
    while dot(wall.area, held(high)) < volume:
        high += high - low
    for _ in range(60):
        level = 0.5 * (low + high)
        low, high = (level, high) if dot(wall.area, held(level)) < volume else (low, level)
    below, above = held(low), held(high)  # a ceiling fills at once
    least, most = dot(wall.area, below), dot(wall.area, above)
    return below + (above - below) * ((volume - least) / (most - least))


def levels(wall: Wall, volume: Floats, down: tuple[float, float, float]) -> Floats:
    """Height (n,) [m] of the surface of `volume` (n,) [m] of liquid per wall area, from the axes' origin.

    Heights go against `down`, the direction of gravity in mold axes. A full node's surface stands as far over its brim
    as the liquid above presses.
    """
    g = np.asarray(down) / np.linalg.norm(down)
    height, upward = -along(wall.x, g), -along(wall.normal, g)
    over = np.maximum(volume - wall.brim, 0.0) / SLOT
    return np.asarray(height + np.maximum(upward, 0.0) * thicknesses(wall, volume) + over)


def cup_rest(fluid: Fluid, temperature: float, duration: float) -> tuple[float, float]:
    """Conversion [] and temperature [K] of the mix after `duration` [s] in its cup, which keeps its heat."""
    rise = fluid.reaction_heat / fluid.heat_capacity
    a, warm = 0.0, temperature
    steps = max(1, math.ceil(duration / 0.5))
    for _ in range(steps):
        after = react(a, warm, rise, fluid, duration / steps)
        warm += rise * (after - a)
        a = after
    return a, warm


def isothermal_gel(fluid: Fluid, temperature: float, *, conversion: float = 0.0) -> float:
    """Time [s] in which the mix gels at a constant `temperature` [K]; raises ResinError where it never does."""
    a, t, dt = conversion, 0.0, 1.0
    while a < fluid.cure.gel:
        after = react(a, temperature, 0.0, fluid, dt)
        if after - a < 1e-5:
            dt *= 2.0
        a, t = after, t + dt
        if t > 2e6:
            raise ResinError(
                f"the resin has not gelled after {t / 86400:.0f} days at {temperature:.0f} K:"
                " check its pot life and its cure law"
            )
    return t


@njit(cache=True)
def thicknesses_into(wall: Wall, volume: Floats, out: Floats) -> None:
    """Thickness [m] of the volume per area [m] at every node."""
    for i in range(volume.size):
        out[i] = thickness_of(volume[i], wall.mean[i], wall.gauss[i], wall.limit[i], wall.brim[i])


def thicknesses(wall: Wall, volume: Floats) -> Floats:
    """Thickness (n,) [m] along the wall's normal of `volume` (n,) [m] per wall area."""
    out = np.empty(len(volume))
    thicknesses_into(wall, volume, out)
    return out


def told_thicknesses(wall: Wall, volume: Floats) -> Floats:
    """The same as it is told: no deeper than the wall's reach, though a node that fills the hollow counts on."""
    return np.minimum(thicknesses(wall, volume), wall.reach)


def volumes(wall: Wall, thickness: Floats) -> Floats:
    """Volume per wall area (n,) [m] of a film of `thickness` (n,) [m], no more than fits."""
    return volumes_of(np.minimum(thickness, wall.limit), wall.mean, wall.gauss)


def _copies(film: Film, column: Column, record: Record) -> tuple[Film, Column, Record]:
    return (
        Film(*(part.copy() for part in film)),
        column._replace(temperature=column.temperature.copy()),
        Record(*(part.copy() for part in record)),
    )


class _Kept(NamedTuple):
    """A moment of the history."""

    time: float
    thickness: Floats
    gravity: tuple[float, float, float]
    conversion: float
    pool: float
    temperature: float


def _snapshot(wall: Wall, film: Film, frame: Frame, clock: Floats, fresh: float) -> _Kept:
    whole = dot(wall.area, film.volume + film.solid)
    cured = dot(wall.area, film.cured + film.solid * film.solid_cured)
    g = body_at(frame.motion, float(clock[TIME]), frame.crossing, 0.0).g
    thickness = told_thicknesses(wall, film.volume + film.solid)
    wet = wall.area * (thickness > DRY)
    held = np.maximum(film.volume + film.solid, 1e-12)
    warm = (film.heat + film.solid * film.solid_temperature) / held
    return _Kept(
        time=float(clock[TIME]),
        thickness=thickness,
        gravity=g,
        conversion=cured / whole if whole > 0.0 else fresh,
        pool=float(clock[POOL]),
        temperature=dot(wet, warm) / float(wet.sum()) if wet.any() else float(film.solid_temperature.mean()),
    )


def _history(kept: list[_Kept], nodes: int) -> History:
    down = np.array([one.gravity for one in kept]).reshape(-1, 3)
    size = np.maximum(np.linalg.norm(down, axis=1, keepdims=True), 1e-300)
    return History(
        times=np.array([one.time for one in kept]),
        thickness=np.array([one.thickness for one in kept], dtype=np.float32).reshape(-1, nodes),
        gravity=down / size,
        conversion=np.array([one.conversion for one in kept]),
        pool_fraction=np.array([one.pool for one in kept]),
        temperature=np.array([one.temperature for one in kept]),
    )


def _no_column(nodes: int) -> Column:
    return Column(np.zeros((nodes, 1)), np.zeros((nodes, 1)), np.zeros((nodes, 1)))


def _stuck(wall: Wall, clock: Floats) -> SolverError:
    x = wall.x[int(clock[WORST])]
    return SolverError(
        f"no step of the film succeeds any more at {clock[TIME]:.2f} s near"
        f" ({x[0]:.3f}, {x[1]:.3f}, {x[2]:.3f}) m: remesh the piece there, or use another fineness"
    )
