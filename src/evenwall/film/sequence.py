"""A coarse start: a coarser mesh carries the coat while its pool sweeps the wall, the fine mesh finishes it.

While a pool sweeps the wall it lays the film anew every turn, so the film at gel forgets the early history.
That holds only if the pool is gone well before the coat gels; the coarse run tells whether it is. The rule:
a coarse start is used where less than POOL_LEFT of the shot is pool when half of the wall has gelled. It ends
SWEEPS turns before the pool's share falls below POOL_GONE, so that a pool still lays the film anew on the fine
mesh, or TURNS turns or REMAINS seconds before half of the wall has gelled, whichever is earliest. Then the
coarse mesh proves it: started over at that time from a still pool on a bare wall, the coat must come to the same
figures within their scatter from mesh to mesh, which every band counts. Where it does not, a time halfway to the pour
is tried as well. Shots that gel with their pool, or remember what was on the wall, are computed in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from scipy import sparse

from evenwall.film.coat import Checkpoint, CoatRun, Progress, Stop, level_pool
from evenwall.film.findings import quantile
from evenwall.film.pouring import Pour, Setting, go_on, run_pour
from evenwall.film.results import RESTING, half_gelled
from evenwall.film.state import Floats, History
from evenwall.film.transfer import interpolation
from evenwall.film.warming import Record
from evenwall.geometry.sums import dot
from evenwall.turning.kinematics import Motion, angular_velocity, gravity

POOL_LEFT: Final = 0.003  # share of the shot that may be pool when half of the wall has gelled []
POOL_GONE: Final = 0.03  # the coarse mesh hands over before the pool's share is below this []
SWEEPS: Final = 6.0  # turns that the pool still makes on the fine mesh
TURNS: Final = 15.0  # turns left on the fine mesh before half of the wall gels
REMAINS: Final = 90.0  # and time left [s]
SAME: Final = {name: RESTING.chance[name] for name in ("p05", "median", "p95")}  # may differ by this []
WORTHWHILE: Final = 8.0  # a coarse start shorter than this is not made [s]


def turned(motion: Motion, start: float, end: float) -> float:
    """Turns that the mold makes between two times [s]: its angular speed over 2 pi, summed."""
    times = np.linspace(start, end, 200)
    speed = [float(np.linalg.norm(angular_velocity(motion, float(t)))) for t in times]
    return float(np.trapezoid(speed, times)) / (2.0 * np.pi)


def hand_over(pour: Pour, run: CoatRun, area: Floats) -> tuple[float, str]:
    """When [s] the coarse mesh hands over to the fine one, 0 for never, and why in one sentence."""
    half = half_gelled(run, area)
    history = run.history
    if not np.isfinite(half) or not run.gelled:
        return 0.0, "Every step was computed on this mesh, because the coat did not gel on the coarse one."
    left = float(np.interp(half, history.times, history.pool_fraction))
    if left > POOL_LEFT:
        return 0.0, f"Every step was computed on this mesh, because {left:.0%} of a shot gels as a pool."
    swept = history.times[history.pool_fraction >= POOL_GONE]
    gone = float(swept[-1]) if len(swept) else pour.start
    switch = min(_before(pour, gone, SWEEPS), _before(pour, half, TURNS), half - REMAINS)
    if switch - pour.start < WORTHWHILE:
        return 0.0, "Every step was computed on this mesh, because a coarse start would have saved nothing."
    return switch, (
        f"A coarser mesh carried the pool until {{switch:.0f}} s; it had gone {half - gone:.0f} s before half of"
        " the wall gelled, so the film no longer remembers it: started over at that time from a bare wall"
        " it came to figures that differ {said}, which is no more than they scatter from mesh to mesh."
    )


def remembered(
    pour: Pour, setting: Setting, run: CoatRun, state: Checkpoint, progress: Progress, stop: Stop
) -> dict[str, float]:
    """Relative changes [] of p05, median and p95 when a `run` starts over, bare, from a `state` of it.

    All its liquid lies in a still pool then, everywhere as warm and as cured as it was on the mean.
    """
    area, film = pour.wall.area, state.film
    whole = dot(area, film.volume)
    still = level_pool(pour.wall, whole, gravity(pour.motion, state.time))
    cured, heat = (still * (dot(area, field) / whole) for field in (film.cured, film.heat))
    fresh = state._replace(film=film._replace(volume=still, cured=cured, heat=heat))
    again = go_on(pour, setting, fresh, progress=progress, stop=stop)
    return {
        name: abs(quantile(again.thickness, area, share) / quantile(run.thickness, area, share) - 1.0)
        for name, share in (("p05", 0.05), ("median", 0.5), ("p95", 0.95))
    }


def proved(
    pour: Pour,
    setting: Setting,
    run: CoatRun,
    states: Sequence[Checkpoint],
    switch: float,
    reason: str,
    progress: Progress,
    stop: Stop,
) -> tuple[Checkpoint | None, str]:
    """The state that the fine mesh may begin from, None for none, and why in one sentence."""
    tried: list[str] = []
    for time in (switch, 0.5 * (switch + pour.start)):
        before = [state for state in states if state.time <= time]
        if not before or before[-1].time - pour.start < WORTHWHILE:
            break
        differs = remembered(pour, setting, run, before[-1], progress, stop)
        said = f"by {max(differs.values()):.1%} at most"
        if all(differs[name] <= most for name, most in SAME.items()):
            return before[-1], reason.format(switch=before[-1].time, said=said)
        tried.append(f"{before[-1].time:.0f} s ({said})")
    if not tried:
        return None, "Every step was computed on this mesh, because a coarse start would have saved nothing."
    return None, (
        "Every step was computed on this mesh, because on the coarse mesh the film remembers what lay on the"
        f" wall at {' and at '.join(tried)}."
    )


class Scout:
    """Runs a casting's coats on a coarse mesh first and remembers what the fine mesh can begin from."""

    def __init__(self) -> None:
        self.kept: dict[int, tuple[Checkpoint | None, Pour, CoatRun]] = {}
        self.reasons: list[str] = []

    def look(
        self, index: int, pour: Pour, setting: Setting, progress: Progress, stop: Stop
    ) -> tuple[CoatRun, float]:
        """A coat on the coarse mesh, in full."""
        states: list[Checkpoint] = []
        run = run_pour(pour, setting, keep=states, progress=progress, stop=stop)
        switch, reason = hand_over(pour, run, pour.wall.area)
        state: Checkpoint | None = None
        if switch > 0.0:
            state, reason = proved(
                pour,
                setting,
                run,
                states,
                switch,
                reason,
                lambda _, text: progress(1.0, f"{text} once more"),
                stop,
            )
        self.kept[index] = (state, pour, run)
        if reason not in self.reasons:
            self.reasons.append(reason)
        return run, 0.0

    def follow(
        self, index: int, pour: Pour, setting: Setting, progress: Progress, stop: Stop
    ) -> tuple[CoatRun, float]:
        """The same coat on the fine mesh, from the coarse start where the rule allows one."""
        if index not in self.kept:
            return run_pour(pour, setting, progress=progress, stop=stop), 0.0
        state, coarse, run = self.kept[index]
        if state is None:
            return run_pour(pour, setting, progress=progress, stop=stop), 0.0
        return finish(state, coarse, run.history, pour, setting, progress, stop)


def _before(pour: Pour, end: float, turns: float) -> float:
    """Time [s] so many turns before `end`, or the pour where there were not as many."""
    t = end
    while t > pour.start and turned(pour.motion, t, end) < turns:
        t -= 2.0
    return max(t, pour.start)


def finish(
    state: Checkpoint,
    coarse: Pour,
    history: History,
    pour: Pour,
    setting: Setting,
    progress: Progress,
    stop: Stop,
) -> tuple[CoatRun, float]:
    """The rest of the coat on the pour's own mesh, from a `state` of the same coat on a coarser one.

    Liquid, its conversion and its heat are carried over exactly in sum. Gives the run, with the coarse run's
    history read on this mesh in front of its own, and the time [s] it began.
    """
    reading = interpolation(coarse.surface, pour.surface)
    run = go_on(pour, setting, carried(state, reading, coarse, pour), progress=progress, stop=stop)
    early = history.times <= state.time
    joined = History(
        times=np.concatenate([history.times[early], run.history.times]),
        thickness=np.concatenate(
            [np.asarray(history.thickness[early] @ reading.T, dtype=np.float32), run.history.thickness]
        ),
        gravity=np.concatenate([history.gravity[early], run.history.gravity]),
        conversion=np.concatenate([history.conversion[early], run.history.conversion]),
        pool_fraction=np.concatenate([history.pool_fraction[early], run.history.pool_fraction]),
        temperature=np.concatenate([history.temperature[early], run.history.temperature]),
    )
    return replace(run, history=joined), state.time


def carried(state: Checkpoint, reading: sparse.csr_array, coarse: Pour, pour: Pour) -> Checkpoint:
    """The state on the pour's mesh, which `reading` reads it on; liquid, conversion and heat exact in sum."""
    film = state.film

    def exact(field: Floats) -> Floats:
        here = np.asarray(reading @ field)
        return np.asarray(here * dot(coarse.wall.area, field) / max(dot(pour.wall.area, here), 1e-300))

    nearest = np.asarray(reading.argmax(axis=1)).ravel()  # the node that counts most
    return Checkpoint(
        time=state.time,
        film=film._replace(volume=exact(film.volume), cured=exact(film.cured), heat=exact(film.heat)),
        column=pour.column._replace(temperature=np.ascontiguousarray(reading @ state.column.temperature)),
        record=Record(
            gel_time=state.record.gel_time[nearest],
            wetted=state.record.wetted[nearest],
            peak=np.asarray(reading @ state.record.peak),
            fallen=np.asarray(reading @ state.record.fallen),
        ),
    )
