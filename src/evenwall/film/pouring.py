"""A shot or a brushed layer ready to flow: what the coats have in common, and how one is let flow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

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
from evenwall.film.coats import brushed
from evenwall.film.fluid import ALL_TERMS, Fluid, Terms, fluid_of
from evenwall.film.operators import Wall, build_wall, node_areas
from evenwall.film.results import came_to_rest
from evenwall.film.rubber import ROOM_COEFFICIENT, Column
from evenwall.film.state import Brushed, Closing, Floats, Rubber, Shot
from evenwall.film.steps import USUAL, Control
from evenwall.film.warming import Outside, Record
from evenwall.geometry.surface import Surface
from evenwall.resin.data import Resin
from evenwall.turning.kinematics import Motion, gravity
from evenwall.turning.patterns import still

ROOM: Final = 295.15  # [K]
SNAPSHOTS: Final = 60  # remembered of a coat that gels when it is expected to


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


def setting_of(
    resin: Resin,
    motion: Motion,
    shots: tuple[Shot, ...],
    *,
    rubber: Rubber = Rubber(),
    mold_temperature: float = ROOM,
    air_temperature: float = ROOM,
    crossing: ArrayLike = (0.0, 0.0, 0.0),
    brushed: Brushed | None = None,
    closing: Closing = Closing(),
    rubber_limit: float = math.inf,
    control: Control = USUAL,
) -> Setting:
    """The setting of a casting; temperatures in [K], `crossing` (3,) [m], `rubber_limit` what the mold stands [K]."""
    x, y, z = np.asarray(crossing, dtype=np.float64)
    resin_limit = resin.heat_limit
    return Setting(
        fluid=fluid_of(resin),
        heat_limit=(resin_limit, "resin") if resin_limit <= rubber_limit else (rubber_limit, "rubber"),
        motion=Motion(*(np.ascontiguousarray(part, dtype=np.float64) for part in motion)),
        shots=shots,
        rubber=rubber,
        mold_temperature=mold_temperature,
        air_temperature=air_temperature,
        crossing=(float(x), float(y), float(z)),
        brushed=brushed,
        closing=closing,
        control=control,
    )


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


def run_pour(
    pour: Pour,
    setting: Setting,
    *,
    keep: list[Checkpoint] | None = None,
    threads: int | None = None,
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
        threads=threads,
        progress=progress,
        stop=stop,
    )


def go_on(
    pour: Pour,
    setting: Setting,
    state: Checkpoint,
    *,
    motion: Motion | None = None,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> CoatRun:
    """Lets the shot flow on from a `state` on its own wall, in another `motion` where one is given."""
    held = np.maximum(state.film.volume, 1e-300)
    wet = state.film.volume > 1e-12
    return run_coat(
        pour.wall,
        setting.fluid,
        pour.motion if motion is None else motion,
        volume=state.film.volume,
        start=state.time,
        until=pour.until,
        temperature=np.where(wet, state.film.heat / held, pour.temperature),
        conversion=np.clip(state.film.cured / held, 0.0, 1.0),
        column=state.column._replace(temperature=state.column.temperature.copy()),
        outside=outside_of(setting),
        terms=setting.terms,
        control=setting.control,
        crossing=setting.crossing,
        snapshots=pour.snapshots[pour.snapshots > state.time],
        record=Record(*(part.copy() for part in state.record)),
        progress=progress,
        stop=stop,
    )


def outside_of(setting: Setting) -> Outside:
    """What the rubber's outer side meets."""
    return Outside(setting.air_temperature, ROOM_COEFFICIENT, 1.0)


def poured(
    surface: Surface, shot: Shot, setting: Setting, column: Column, *, moments: int = SNAPSHOTS
) -> Pour:
    """The shot as it lies in the mold when the turning starts; so many `moments` of it are remembered."""
    wall = build_wall(surface, scale=max(2e-3, shot.volume / _area(surface)))
    conversion, warm = cup_rest(setting.fluid, shot.temperature, shot.pour_after)
    slow = isothermal_gel(setting.fluid, min(setting.mold_temperature, shot.temperature))
    start = shot.pour_after
    until = start + 1.5 * slow + 60.0
    motion = setting.motion._replace(time=setting.motion.time + start)
    times = start + np.linspace(0.0, 1.0, moments) ** 1.5 * (until - start)
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


def brushed_pour(surface: Surface, setting: Setting, layer: Brushed, column: Column) -> tuple[Pour, Shot]:
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
