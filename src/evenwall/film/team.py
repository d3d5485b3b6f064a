"""Threads that step one film together: each does its share of every loop, and all meet between the loops.

Every thread runs the same compiled code on the same arrays. What a loop reads from other nodes was written
before the last meeting, and a loop writes to its own nodes or edges only, so no two threads touch one number.
Sums over the wall are taken block by block, in the same blocks however many threads there are: one thread
and two give the same wall to the last bit.
"""

from __future__ import annotations

import os
from typing import Any, Final, NamedTuple

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.core import cgutils
from numba.extending import intrinsic
from numpy.typing import NDArray

from evenwall.film.state import Floats

BLOCKS: Final = 4  # parts of the wall that sums are taken over; so many threads at most
ROWS: Final = 8  # partial sums under way at a time
APART: Final = 16  # numbers between two threads' counters, so that they lie in different cache lines
PATIENCE: Final = 2000  # looks at the others' counters before the processor is offered to other work


class Team(NamedTuple):
    """One thread's place among those that step a film."""

    rank: int
    size: int
    meetings: NDArray[np.int64]  # (BLOCKS * APART,) that each thread has come to
    sums: Floats  # (ROWS, BLOCKS) partial sums, a row for each that is under way


def alone() -> Team:
    """A team of one."""
    return team(1)[0]


def team(size: int) -> tuple[Team, ...]:
    """`size` threads' places; 1, 2 or 4 of them."""
    count, sums = np.zeros(BLOCKS * APART, dtype=np.int64), np.zeros((ROWS, BLOCKS))
    return tuple(Team(rank, size, count, sums) for rank in range(size))


def _writing(typing_context: Any, array: Any, index: Any, value: Any) -> Any:
    """Writes array[index] so that all that was written before is seen by who reads it with `_reading`."""

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        view = context.make_array(signature.args[0])(context, builder, args[0])
        place = builder.gep(view.data, [args[1]])
        builder.store_atomic(args[2], place, ordering="seq_cst", align=8)
        return context.get_dummy_value()

    return types.void(array, types.int64, types.int64), generate


def _reading(typing_context: Any, array: Any, index: Any) -> Any:
    """Reads array[index] as `_writing` wrote it."""

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        view = context.make_array(signature.args[0])(context, builder, args[0])
        return builder.load_atomic(builder.gep(view.data, [args[1]]), ordering="seq_cst", align=8)

    return types.int64(array, types.int64), generate


def _offering(typing_context: Any) -> Any:
    """Offers the processor to other work, where the system can."""

    def generate(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        if os.name == "posix":
            kind = ir.FunctionType(ir.IntType(32), [])
            insert: Any = cgutils.get_or_insert_function
            builder.call(insert(builder.module, kind, "sched_yield"), [])
        return context.get_dummy_value()

    return types.void(), generate


_store: Any = intrinsic(_writing)
_load: Any = intrinsic(_reading)
_offer: Any = intrinsic(_offering)


@njit(cache=True)
def meet(team: Team) -> None:
    """Waits until every thread of the team has come here."""
    if team.size == 1:
        return
    mine = team.meetings[team.rank * APART] + 1
    _store(team.meetings, team.rank * APART, mine)
    for other in range(team.size):
        looks = 0
        while _load(team.meetings, other * APART) < mine:
            looks += 1
            if looks > PATIENCE:
                _offer()


@njit(cache=True)
def lone(team: Team) -> Team:
    """A team of this thread alone, with the same sums."""
    return Team(0, 1, team.meetings, team.sums)


@njit(cache=True)
def share(team: Team, size: int) -> tuple[int, int]:
    """First and last-but-one of `size` things that are this thread's."""
    first, last = blocks(team)
    return size * first // BLOCKS, size * last // BLOCKS


@njit(cache=True)
def blocks(team: Team) -> tuple[int, int]:
    """First and last-but-one of the blocks that are this thread's."""
    return BLOCKS * team.rank // team.size, BLOCKS * (team.rank + 1) // team.size


@njit(cache=True)
def whole(team: Team, row: int) -> float:
    """Sum of a row of partial sums, the same for every thread; to be called after they have met."""
    total = 0.0
    for block in range(BLOCKS):
        total += team.sums[row, block]
    return total
