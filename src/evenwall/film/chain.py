"""Coat after coat on one mesh: each is poured, turned until it gels, rests, and is wall for the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

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
)
from evenwall.film.coats import Build, Covered, bare, with_coat
from evenwall.film.fluid import ALL_TERMS, Fluid, Terms
from evenwall.film.operators import Wall, build_wall, node_areas
from evenwall.film.results import came_to_rest, coat_result
from evenwall.film.rubber import ROOM_COEFFICIENT, Column, new_column, rest, under_coat
from evenwall.film.state import CoatResult, Floats, Rubber, Shot
from evenwall.film.stepping import USUAL, Control
from evenwall.film.warming import Outside
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import Motion, gravity

SNAPSHOTS = 60  # remembered of a coat that gels when it is expected to


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What the coats of one casting have in common."""

    fluid: Fluid
    heat_limit: float  # of the resin [K]
    motion: Motion  # [s from the pour of each shot]
    shots: tuple[Shot, ...]
    rubber: Rubber
    mold_temperature: float  # [K]
    air_temperature: float  # [K]
    crossing: tuple[float, float, float]  # [m]
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
    build, column = (
        bare(surface),
        new_column(setting.rubber, len(surface.vertices), temperature=setting.mold_temperature),
    )
    results: list[CoatResult] = []
    count = len(setting.shots)
    node_area: Floats | None = None
    for index, shot in enumerate(setting.shots):
        wall = build_wall(build.surface, scale=max(2e-3, shot.volume / _area(build.surface)))
        node_area = wall.area if node_area is None else node_area
        pour = _poured(build.surface, wall, shot, setting, column)

        def partly(share: float, text: str, index: int = index) -> None:
            progress((index + share) / count, f"coat {index + 1} of {count}, {text}")

        run, coarse_until = runner(index, pour, setting, partly, stop)
        came = came_to_rest(setting.motion)
        result = coat_result(
            build.surface,
            wall,
            run,
            shot=shot,
            poured=shot.volume,
            heat_limit=setting.heat_limit,
            stopped_turning=None if came is None else came + pour.start,
            coarse_until=coarse_until,
        )
        results.append(result)
        build, covered = with_coat(
            build, result.thickness, volume=float(wall.area @ result.volume), areas_of=node_areas
        )
        if run.stopped:
            break
        if index + 1 < count:
            wait = setting.shots[index + 1].mixed_at + setting.shots[index + 1].pour_after
            wait -= shot.mixed_at + run.time
            column = _rested(wall, run, pour.column, covered, setting, max(wait, 0.0))
    assert node_area is not None  # a forecast has at least one shot
    return Chain(
        build=build,
        coats=tuple(results),
        node_area=node_area,
        stopped=any(one.kind == "stopped" for coat in results for one in coat.findings),
    )


def _area(surface: Surface) -> float:
    return float(node_areas(surface).sum())


def _poured(surface: Surface, wall: Wall, shot: Shot, setting: Setting, column: Column) -> Pour:
    """The shot as it lies in the mold when the turning starts."""
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
