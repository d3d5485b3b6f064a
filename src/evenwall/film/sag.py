"""When the turning may stop: a coat turned to its gel, then let stand from moments on the way.

What flows after the stop is the integral of 1/viscosity from then to gel: under the top of a sphere of
radius R a film of h ends at 1/h_f^2 = 1/h^2 + (4 rho g / (3 R)) int dt/mu (Lee et al., Nature Communications 7
(2016) 11155, for any history of the viscosity). On other walls it is computed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from scipy import sparse
from scipy.integrate import cumulative_trapezoid

from evenwall.errors import heed
from evenwall.film.coat import Checkpoint, CoatRun, Progress, Stop, never, no_progress, told_thicknesses
from evenwall.film.findings import DRY, SAG, averaging
from evenwall.film.fluid import Fluid
from evenwall.film.pouring import Pour, Setting, go_on, run_pour
from evenwall.film.state import Floats, History
from evenwall.resin.viscosity import viscosity
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import stopped

MOMENTS: Final = 200  # of a rehearsed coat at which a stop may be tried


@dataclass(frozen=True, kw_only=True)
class Settled:
    """The earliest stop after which nothing sags."""

    stop: float  # [s from mixing]
    change: float  # largest local change of the thickness from there to gel []
    left: float  # integral of 1/viscosity from there to gel [1/Pa]


def rehearsed(pour: Pour, setting: Setting, *, stop: Stop = never) -> tuple[CoatRun, list[Checkpoint]]:
    """The coat turned to its gel, and its states on the way."""
    states: list[Checkpoint] = []
    return run_pour(pour, setting, keep=states, stop=stop), states


def earliest_stop(
    pour: Pour,
    setting: Setting,
    run: CoatRun,
    states: list[Checkpoint],
    *,
    limit: float = SAG,
    progress: Progress = no_progress,
    stop: Stop = never,
) -> Settled:
    """The earliest of the `states` from which the coat, at rest, changes nowhere by more than `limit` [].

    Changes are those of means over patches, relative to the thickness at the stop, as a sag is found. Where
    even the last state sags, the turning goes on to gel. Raises StoppedError once stop() is true.
    """
    patches = averaging(pour.wall.x, pour.wall.normal, pour.wall.area)
    times, flowed = fluidity_left(run.history, setting.fluid)
    low, high = 0, len(states)  # the state at `low` sags, the one at `high` does not
    held = 0.0
    while high - low > 1:
        middle = (low + high) // 2
        change = _change(pour, setting, states[middle], patches, progress, stop)
        heed(stop)
        if change > limit:
            low = middle
        else:
            high, held = middle, change
    at = states[high].time if high < len(states) else run.time
    return Settled(stop=at, change=held, left=float(np.interp(at, times, flowed)))


def fluidity_left(history: History, fluid: Fluid) -> tuple[Floats, Floats]:
    """Times (k,) [s] of a coat and the integral of 1/viscosity from each to its gel (k,) [1/Pa]."""
    flow = np.array(
        [
            1.0 / viscosity(float(a), float(warm), fluid.viscosity) if a < fluid.cure.gel else 0.0
            for a, warm in zip(history.conversion, history.temperature, strict=True)
        ]
    )
    gone = cumulative_trapezoid(flow, history.times, initial=0.0)
    return history.times, np.asarray(gone[-1] - gone)


def run_down(left: float, *, thickness: float, density: float) -> float:
    """How far [m] the mean of an upright film still runs: rho g h^2/3 int dt/mu, `left` [1/Pa], `thickness` [m]."""
    return density * GRAVITY * thickness**2 / 3.0 * left


def settled_at(history: History, fluid: Fluid, *, thickness: float, run: float) -> float:
    """When [s from mixing] a coat of so many metres has at most `run` [m] of running down left."""
    times, left = fluidity_left(history, fluid)
    still = run_down(1.0, thickness=thickness, density=fluid.density) * left <= run
    return float(times[np.argmax(still)]) if still.any() else float(times[-1])


def _change(
    pour: Pour,
    setting: Setting,
    state: Checkpoint,
    patches: sparse.csr_array,
    progress: Progress,
    stop: Stop,
) -> float:
    """Largest relative change of a patch's mean from the state to gel, at rest in the attitude it stops in."""
    before = patches @ told_thicknesses(pour.wall, state.film.volume)
    still = replace(pour, snapshots=np.zeros(0))
    done = go_on(
        still, setting, state, motion=stopped(pour.motion, at=state.time), progress=progress, stop=stop
    )
    return float((np.abs(patches @ done.thickness - before) / np.maximum(before, DRY)).max())
