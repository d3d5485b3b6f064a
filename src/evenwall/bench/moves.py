"""The turning as it is called out: each push of each axis, from a motion's own knots."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Literal

import numpy as np

from evenwall.bench.casting import Move
from evenwall.film.state import Floats
from evenwall.turning.kinematics import Motion


def moves_of(motion: Motion, *, begin: float, end: float) -> tuple[Move, ...]:
    """The pushes of each axis of `motion` between `begin` and `end` [s]: a push ends where the axis turns back.

    Turns come out of the motion's own knots, so a recorded motion can be called out too.
    """
    moves: list[Move] = []
    columns: tuple[tuple[Literal["frame", "cradle"], Floats, Floats], ...] = (
        ("frame", motion.frame_angle, motion.frame_rate),
        ("cradle", motion.cradle_angle, motion.cradle_rate),
    )
    time = np.asarray(motion.time)
    inside = (time > begin) & (time < end)
    for axis, angle, rate in columns:
        if len(time) < 2:
            if rate[0] != 0.0:
                turns = float(rate[0]) * (end - begin) / (2.0 * math.pi)
                moves.append(Move(axis=axis, starts=0.0, lasts=end - begin, turns=turns))
            continue
        at = np.concatenate([[begin], time[inside], [end]])
        turned = np.interp(at, time, angle) / (2.0 * math.pi)
        way = np.sign(np.round(np.diff(turned), 6))
        cuts = [0, *(np.flatnonzero((way[1:] != way[:-1]) & (way[1:] != 0)) + 1), len(way)]
        for first, last in pairwise(cuts):
            moves.append(
                Move(
                    axis=axis,
                    starts=float(at[first] - begin),
                    lasts=float(at[last] - at[first]),
                    turns=float(turned[last] - turned[first]),
                )
            )
    return tuple(sorted((m for m in moves if m.lasts > 0), key=lambda m: (m.starts, m.axis)))
