"""Steps of one film by several threads of this process, in slices short enough to look at progress and stop."""

from __future__ import annotations

import os
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from types import TracebackType
from typing import Any, Final

import numpy as np

from evenwall.film import stepping
from evenwall.film.team import team

SLICE: Final = 0.15  # computing time between two looks at `stop` [s]
FIRST: Final = (
    2  # steps of a slice of which it is not known how long it takes: beside other work one may take a second
)
PAUSE: Final = (
    1.0  # computing time before it is tried again whether more threads pay [s]; doubled when in vain
)
WORTHWHILE: Final = 4000  # nodes from which a second thread is worth its meetings


def threads_for(nodes: int) -> int:
    """Threads that pay on a wall of so many nodes on this machine: 1, 2 or 4."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if nodes < WORTHWHILE or cores < 2:
        return 1
    return 2 if cores < 4 or nodes < 4 * WORTHWHILE else 4


class Steppers:
    """A team's threads, alive while the coat runs.

    Where it is not said how many to use, the team is tried against one thread alone now and then and stays only
    while it is faster: beside other work the threads wait longer for each other than they gain. The wall is the
    same to the last bit, whichever it is.
    """

    def __init__(self, threads: int, *, tried: bool) -> None:
        """`threads` 1, 2 or 4; `tried`: fewer where that is faster."""
        self.teams = (team(1), team(threads)) if tried and threads > 1 else (team(threads),)
        self.used = 0  # of the teams
        self.speed = [0.0] * len(self.teams)  # steps a second in the latest slice of each
        self.steps = FIRST  # in the next slice
        self.wait = PAUSE  # between two trials [s]
        self.next_trial = 0.0
        self.pool = ThreadPoolExecutor(threads - 1) if threads > 1 else None

    def __enter__(self) -> Steppers:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.pool is not None:
            self.pool.shutdown()

    def advance(self, arrays: tuple[Any, ...], end: float) -> int:
        """One slice of `advance` up to `end` [s]; `arrays` are its arguments, the clock last."""
        now = time.perf_counter()
        trial = len(self.teams) > 1 and now >= self.next_trial
        if not trial:
            status, _ = self._slice(self.used, arrays, end, self.steps)
            return status
        status, _ = self._slice(self.used, arrays, end, FIRST)
        if status == stepping.PAUSED:
            other = 1 - self.used
            status, whole = self._slice(other, arrays, end, FIRST)
            if whole:
                faster = self.speed[other] > self.speed[self.used]
                self.wait = PAUSE if faster else 2.0 * self.wait
                self.used = other if faster else self.used
                self.next_trial = time.perf_counter() + self.wait
        return status

    def _slice(self, which: int, arrays: tuple[Any, ...], end: float, steps: int) -> tuple[int, bool]:
        """`steps` steps by one of the teams: why it returned, and whether it took them all."""
        began = time.perf_counter()
        run: Any = stepping.advance
        *shared, clock = arrays
        first, *rest = self.teams[which]
        others = [
            self.pool.submit(partial(run, place, *shared, clock.copy(), end, steps))
            for place in rest
            if self.pool is not None
        ]
        status = int(run(first, *shared, clock, end, steps))
        for other in others:
            other.result()
        whole = status == stepping.PAUSED
        if whole:
            self.speed[which] = steps / max(time.perf_counter() - began, 1e-6)
            self.steps = int(np.clip(SLICE * self.speed[which], FIRST, 100_000))
        return status, whole
