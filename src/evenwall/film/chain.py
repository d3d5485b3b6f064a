"""Coat after coat on one mesh: each is poured, turned until it gels, rests, and is wall for the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np

from evenwall.errors import StoppedError, heed
from evenwall.film.air import air_over, air_pushes
from evenwall.film.cap import kept_areas
from evenwall.film.coat import (
    CoatRun,
    Progress,
    Stop,
    never,
    no_progress,
)
from evenwall.film.coats import Build, Covered, bare, with_coat, with_coat_as_found
from evenwall.film.findings import cut_off_hollow
from evenwall.film.operators import node_areas
from evenwall.film.pouring import Pour, Setting, brushed_pour, poured, run_pour
from evenwall.film.results import came_to_rest, coat_result
from evenwall.film.rubber import Column, new_column, rest, under_coat
from evenwall.film.state import CoatResult, Figures, Floats, Shot
from evenwall.geometry.sums import dot
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import gravity

Runner = Callable[[int, Pour, Setting, Progress, Stop], tuple[CoatRun, float]]  # run, coarse until [s]


@dataclass(frozen=True, kw_only=True)
class Chain:
    """The coats of one casting on one mesh."""

    build: Build
    brush: CoatResult | None
    coats: tuple[CoatResult, ...]
    node_area: Floats  # of the piece's wall (n,) [m2]
    kept_area: Floats  # the same, zero where the skin comes off with board or plug (n,) [m2]
    stopped: bool


def run_plainly(
    index: int, pour: Pour, setting: Setting, progress: Progress, stop: Stop
) -> tuple[CoatRun, float]:
    """The coat from its pour to gel on this one mesh."""
    return run_pour(pour, setting, progress=progress, stop=stop), 0.0


def run_chain(
    surface: Surface,
    setting: Setting,
    *,
    runner: Runner = run_plainly,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> Chain:
    """All shots on this mesh, one after the other; stops early and keeps what was done where `stop` says so.

    Raises StoppedError where that is before the first shot was poured.
    """
    nodes = len(surface.vertices)
    state = _State(bare(surface), new_column(setting.rubber, nodes, temperature=setting.mold_temperature))
    brush: CoatResult | None = None
    if setting.brushed is not None:
        pour, shot = brushed_pour(surface, setting, setting.brushed, state.column)
        run = run_pour(pour, setting, stop=stop)
        brush, state = _laid(state, pour, run, shot, setting, setting.shots[0].pour_after, stop=stop)
    results: list[CoatResult] = []
    count = len(setting.shots)
    for index, shot in enumerate(setting.shots):
        pour = poured(state.build.surface, shot, setting, state.column)
        if stop():
            state = state._replace(stopped=True)
            break

        def partly(share: float, text: str, index: int = index) -> None:
            progress((index + share) / count, f"coat {index + 1} of {count}, {text}")

        run, coarse_until = runner(index, pour, setting, partly, stop)
        wait: float | None = None
        if index + 1 < count:
            wait = setting.shots[index + 1].mixed_at + setting.shots[index + 1].pour_after
            wait = max(wait - shot.mixed_at - run.time, 0.0)
        result, state = _laid(state, pour, run, shot, setting, wait, coarse_until=coarse_until, stop=stop)
        results.append(result)
        if state.stopped:
            break
    if not results:
        heed(stop)
    area = node_areas(surface)
    return Chain(
        build=state.build,
        brush=brush,
        coats=tuple(results),
        node_area=area,
        kept_area=kept_areas(surface, area, setting.closing),
        stopped=state.stopped,
    )


class _State(NamedTuple):
    """What the next coat finds."""

    build: Build
    column: Column
    stopped: bool = False  # no coat will follow


def _laid(
    state: _State,
    pour: Pour,
    run: CoatRun,
    shot: Shot,
    setting: Setting,
    wait: float | None,
    *,
    coarse_until: float = 0.0,
    stop: Stop,
) -> tuple[CoatResult, _State]:
    """The coat of a run in figures, and the wall and rubber under it after the `wait` [s]; None after the last coat."""
    layer = shot.volume == 0.0  # brushed on by hand, in the open mold
    amount = dot(pour.wall.area, pour.volume)
    came = None if layer else came_to_rest(pour.motion)
    air = None
    if not (layer or run.stopped):
        air = air_over(pour.surface, amount, run.history, setting.closing, room=setting.air_temperature)
    result = coat_result(
        pour.surface,
        pour.wall,
        run,
        shot=shot,
        poured=amount,
        kept=kept_areas(pour.surface, pour.wall.area, setting.closing),
        heat_limit=setting.heat_limit,
        stopped_turning=came,
        coarse_until=coarse_until,
        air=air,
        everywhere=not layer,
    )
    volume = dot(pour.wall.area, result.volume)
    try:
        build, covered = with_coat(
            state.build,
            result.thickness,
            volume=volume,
            areas_of=node_areas,
            last=wait is None,
            stop=lambda: run.stopped or stop(),
        )
    except StoppedError:
        build = with_coat_as_found(state.build, result.thickness, volume=volume)
        return result, _State(build, pour.column, stopped=True)
    result = _holding(result, covered.scale)
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
    return result, _State(build, _rested(run, pour.column, covered, setting, wait))


def _holding(result: CoatResult, scale: float) -> CoatResult:
    """The coat with its thickness and figures times `scale` [], with which it holds its volume."""
    figures = {item.name: scale * getattr(result.figures, item.name) for item in fields(Figures)}
    return replace(
        result,
        thickness=scale * result.thickness,
        figures=replace(result.figures, **(figures | {"cv": result.figures.cv})),
    )


def _rested(run: CoatRun, column: Column, covered: Covered, setting: Setting, wait: float) -> Column:
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
