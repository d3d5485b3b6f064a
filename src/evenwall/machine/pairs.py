"""Clamps that must be there anyway, put so that they balance each other: free, before any counterweight."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.machine.parts import Vector

ALL_ORDERS: Final[int] = 8  # clamps of which every order is tried


def opposite_pairs(masses: Sequence[float], seats: Sequence[Vector]) -> tuple[int, ...]:
    """For each seat, the clamp that belongs there, so that their moment across the cradle axis is least.

    masses: of the clamps [kg]; seats: where clamps close the board, from the crossing [m], as many. Up to eight
    clamps every order is tried; with more, the heaviest are set one by one where they balance what is there.
    Raises InputError where clamps and seats differ in number.
    """
    if len(masses) != len(seats):
        raise InputError(f"{len(masses)} clamps for {len(seats)} seats: give one clamp for each seat")
    across = np.array([seat[:2] for seat in seats])
    if len(masses) <= ALL_ORDERS:
        orders = np.array(list(permutations(range(len(masses)))))
        moments = np.asarray(masses)[orders] @ across
        return tuple(int(i) for i in orders[int(np.argmin(np.round(np.hypot(*moments.T), 12)))])
    order = [-1] * len(seats)
    moment = np.zeros(2)
    for clamp in np.argsort(masses)[::-1]:
        free = [i for i, there in enumerate(order) if there < 0]
        left = [float(np.hypot(*(moment + masses[clamp] * across[i]))) for i in free]
        seat = free[int(np.argmin(left))]
        order[seat] = int(clamp)
        moment = moment + masses[clamp] * across[seat]
    return tuple(order)
