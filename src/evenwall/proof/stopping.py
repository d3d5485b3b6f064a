"""When turning may stop, against the published drainage of a film whose viscosity has any history."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from evenwall.film.fluid import Fluid
from evenwall.film.operators import build_wall
from evenwall.film.pouring import Pour, Setting, go_on
from evenwall.film.rubber import new_column
from evenwall.film.sag import Settled, earliest_stop, fluidity_left, rehearsed
from evenwall.film.state import History, Rubber
from evenwall.film.steps import Control
from evenwall.proof.film import LEE, PLAIN, curing
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within
from evenwall.turning.kinematics import GRAVITY, Motion, gravity
from evenwall.turning.patterns import constant, stopped

RADIUS: Final = 0.05  # [m]
EVEN: Final = 5e-4  # film that fast turning keeps even [m]
MIRRORED: Final = (
    f"{LEE}: 1/h_f^2 = 1/h^2 + (4 rho g/(3 R)) int dt/mu at the top, its mirror image at the bottom"
)


def rows(*, full: bool) -> Iterator[Row]:
    """Checks of the earliest stop in a ball; `full` takes a finer mesh."""
    pour, setting = _turning_ball(rounds=4 if full else 3)
    run, states = rehearsed(pour, setting)
    scale = 4.0 * setting.fluid.density * GRAVITY * EVEN**2 / (3.0 * RADIUS)
    for limit in (0.2, 0.1):
        settled: Settled = earliest_stop(pour, setting, run, states, limit=limit)
        # the bottom changes most: (h_f / h)^2 = 1 / (1 - scale * left)
        exact = (1.0 - 1.0 / (1.0 + limit) ** 2) / scale
        left = _at_rest(pour.motion, run.history, setting.fluid, settled.stop)
        yield within(f"flow left when turning may stop in a ball, change under {limit:.0%}", exact, left, 0.03,
                     unit="1/Pa", source=MIRRORED)  # fmt: skip
    times, flows = fluidity_left(run.history, setting.fluid)
    state = next(one for one in states if float(np.interp(one.time, times, flows)) < 6.0)
    still = go_on(
        pour, setting, state, motion=stopped(constant(frame_rate=0.0, cradle_rate=0.0), at=state.time)
    )
    top = pour.wall.x[:, 2] > RADIUS * np.cos(0.25)
    exact = EVEN / np.sqrt(1.0 + scale * float(np.interp(state.time, times, flows)))
    yield within("film under the top of a ball that stopped before its gel", exact,
                 float(np.average(still.thickness[top], weights=pour.wall.area[top])), 0.02, unit="m",
                 source=LEE)  # fmt: skip


def _at_rest(motion: Motion, history: History, fluid: Fluid, stop: float) -> float:
    """Flow left [1/Pa] along the direction in which the mold rests; while it slows down it turns through others."""
    still = stopped(motion, at=stop)
    slowing = np.linspace(stop, still.time[-1], 201)
    left = np.interp(slowing, *fluidity_left(history, fluid))
    pull = np.array([gravity(still, t) for t in slowing]) / GRAVITY
    along = pull @ pull[-1]
    return float(left[-1] + np.sum(0.5 * (along[1:] + along[:-1]) * (left[:-1] - left[1:])))


def _turning_ball(*, rounds: int) -> tuple[Pour, Setting]:
    """A film of EVEN in a ball that turns so fast that gravity evens out, with inertia left out."""
    surface = ball(RADIUS, rounds=rounds)
    wall = build_wall(surface, curved=False)
    nodes = len(wall.area)
    warm = 296.15
    setting = Setting(
        fluid=curing(),
        heat_limit=(400.0, "resin"),
        motion=constant(frame_rate=16.0, cradle_rate=9.89),
        shots=(),
        rubber=Rubber(),
        mold_temperature=warm,
        air_temperature=warm,
        crossing=(0.0, 0.0, 0.0),
        terms=PLAIN,
        control=Control(cure_every=0.1),
    )
    pour = Pour(
        wall=wall,
        surface=surface,
        volume=np.full(nodes, EVEN),
        conversion=0.0,
        temperature=warm,
        motion=setting.motion,
        start=0.0,
        until=600.0,
        column=new_column(setting.rubber, nodes, temperature=warm),
        snapshots=np.linspace(0.0, 150.0, 600),
    )
    return pour, setting
