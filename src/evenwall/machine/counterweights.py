"""Which of the shop's weights to hang where: fewest pieces under the limit, then least force at the rim.

A mixed-integer program. The torques are norms of sums that are linear in the numbers of pieces; each norm is
held from below by tangents, 32 to begin with, and a tangent is added wherever the program's answer and the
exact norm differ, until they agree: the answer is exact, not that of a polygon.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations_with_replacement
from math import comb
from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from evenwall.errors import InputError, SolverError
from evenwall.machine.materials import material
from evenwall.machine.parts import Carrier, Part, Place, Vector, Weight, box
from evenwall.turning.kinematics import GRAVITY, FloatArray

FACETS: Final[int] = 32  # tangents of each norm to begin with
ROUNDS: Final[int] = 60  # of adding tangents
AGREE: Final[float] = 1e-6  # of the limit: program and exact norm agree
TIME_LIMIT: Final[float] = 3.0  # of one program [s]
ALL_OF: Final[int] = 300_000  # sets of pieces that are simply all tried


@dataclass(frozen=True, kw_only=True)
class Hung:
    """One piece in its place."""

    name: str
    mass: float  # [kg]
    place: str
    at: Vector  # [m]
    carrier: Carrier


@dataclass(frozen=True, kw_only=True)
class Load:
    """Moments that are to be balanced: one state of the machine."""

    frame: FloatArray  # of what the frame carries [kg m], shape (3,)
    cradle: FloatArray  # of what the cradle carries [kg m], shape (3,)


@dataclass(frozen=True, kw_only=True)
class Rims:
    """Where the hands push."""

    frame: float  # distance of the hand from the frame axis [m]
    cradle: float  # distance of the hand from the cradle axis [m]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The pieces chosen."""

    hung: tuple[Hung, ...]
    rim_force: float  # worst force at either rim, over all attitudes and loads, exactly [N]
    reached: bool  # under the limit
    proved: bool  # no better choice exists; False where the time ran out


@dataclass
class _Program:
    """Columns: pieces (weights x places), then per load norms h (cradle) and q (frame), then the force."""

    per_piece: FloatArray  # moment of one piece (6,): frame xyz, cradle xyz [kg m], shape (pieces, 6)
    loads: Sequence[Load]
    rims: Rims
    counts: FloatArray  # most pieces of each column, (pieces,)
    stock: FloatArray  # rows of limits on the columns, (k, pieces)
    stock_most: FloatArray  # (k,)
    rows: list[FloatArray] = field(default_factory=list)
    most: list[float] = field(default_factory=list)

    @property
    def pieces(self) -> int:
        return len(self.per_piece)

    @property
    def width(self) -> int:
        return self.pieces + 2 * len(self.loads) + 1


def choose(
    *, loads: Sequence[Load], weights: Sequence[Weight], places: Sequence[Place], rims: Rims, limit: float
) -> Choice:
    """Fewest pieces that bring the force at the rim under `limit` [N] for every load, then the least force.

    Where the limit can't be reached, the pieces that come nearest to it, with `reached` False.
    Raises InputError for weights without mass and limits that are not above 0.
    """
    _check(weights, rims, limit)
    bare = rim_force(loads, rims)
    if bare <= limit:
        return Choice(hung=(), rim_force=bare, reached=True, proved=True)
    if not weights or not places:
        return Choice(hung=(), rim_force=bare, reached=False, proved=True)
    program = _program(loads, weights, places, rims)
    fewest = np.concatenate((np.ones(program.pieces), np.zeros(program.width - program.pieces)))
    least = np.zeros(program.width)
    least[-1] = 1.0
    first, proved = _solve(program, fewest, limit, ceiling=limit, pieces=None)
    if first is None:
        best, proved = _solve(program, least, limit, ceiling=np.inf, pieces=None)
    else:
        count = int(first.sum())
        best, again = _all_tried(program, count), True
        if best is None:
            best, again = _solve(program, least, limit, ceiling=limit, pieces=count)
        proved = proved and again
        best = first if best is None else best
    if best is None:
        best = np.zeros(program.pieces)
    force = _exact(program, best)[0]
    if force >= bare:
        best, force = np.zeros(program.pieces), bare
    hung = _hung(best, weights, places)
    return Choice(hung=hung, rim_force=force, reached=force <= limit * (1.0 + AGREE), proved=proved)


def rim_force(loads: Sequence[Load], rims: Rims, hung: Sequence[Hung] = ()) -> float:
    """Worst force at either rim [N] over all attitudes and loads, with pieces hung; the exact norms."""
    extra = moment_of(hung)
    return max(
        float(GRAVITY * _pull(load.frame + extra.frame, load.cradle + extra.cradle, rims)) for load in loads
    )


def as_part(piece: Hung) -> Part:
    """A hung piece as a part: a cube of steel of its mass."""
    side = (piece.mass / material("steel").density) ** (1.0 / 3.0)
    return box(
        f"{piece.name} ({piece.place})",
        mass=piece.mass,
        size=(side, side, side),
        middle=piece.at,
        carrier=piece.carrier,
        known="weighed",
    )


def moment_of(hung: Sequence[Hung]) -> Load:
    """Moments [kg m] of pieces hung on frame and cradle."""
    sums = {"frame": np.zeros(3), "cradle": np.zeros(3)}
    for piece in hung:
        sums[piece.carrier] += piece.mass * np.array(piece.at)
    return Load(frame=sums["frame"], cradle=sums["cradle"])


def _pull(frame: FloatArray, cradle: FloatArray, rims: Rims) -> FloatArray:
    """What would have to hang at the worse rim, all attitudes considered, (...) [kg]; moments (..., 3) [kg m]."""
    across = np.hypot(cradle[..., 0], cradle[..., 1])
    about_frame = np.hypot(np.abs(frame[..., 1]) + across, frame[..., 2] + cradle[..., 2])
    return np.asarray(np.maximum(across / rims.cradle, about_frame / rims.frame))


def _check(weights: Sequence[Weight], rims: Rims, limit: float) -> None:
    if not limit > 0.0:
        raise InputError(f"limit at the rim is {limit:g} N: it must be above 0 N, usually 3 N")
    if not min(rims.frame, rims.cradle) > 0.0:
        raise InputError(f"rim is {min(rims.frame, rims.cradle):g} m from its axis: it must be above 0 m")
    for weight in weights:
        if not weight.mass > 0.0 or weight.count < 0:
            raise InputError(
                f"weight {weight.name}: {weight.count} pieces of {weight.mass:g} kg: "
                "give a mass above 0 kg and a count from 0"
            )


def _program(
    loads: Sequence[Load], weights: Sequence[Weight], places: Sequence[Place], rims: Rims
) -> _Program:
    pairs = [(weight, place) for weight in weights for place in places]
    per_piece = np.zeros((len(pairs), 6))
    for row, (weight, place) in zip(per_piece, pairs, strict=True):
        first = 0 if place.carrier == "frame" else 3
        row[first : first + 3] = weight.mass * np.array(place.at)
    stock = [[float(w is weight) for w, _ in pairs] for weight in weights]
    room = [[float(p is place) for _, p in pairs] for place in places]
    program = _Program(
        per_piece=per_piece,
        loads=loads,
        rims=rims,
        counts=np.array([min(weight.count, place.room) for weight, place in pairs], dtype=np.float64),
        stock=np.array(stock + room),
        stock_most=np.array([w.count for w in weights] + [p.room for p in places], dtype=np.float64),
    )
    for index in range(len(loads)):
        for angle in np.linspace(0.0, 2.0 * np.pi, FACETS, endpoint=False):
            _cut_cradle(program, index, float(angle))
        for angle in np.linspace(-0.5 * np.pi, 0.5 * np.pi, FACETS // 2 + 1):
            _cut_frame(program, index, float(angle))
        for column, rim in ((0, rims.cradle), (1, rims.frame)):
            row = np.zeros(program.width)
            row[program.pieces + 2 * index + column] = GRAVITY / rim
            row[-1] = -1.0
            _add(program, row, 0.0)
    return program


def _add(program: _Program, row: FloatArray, most: float) -> None:
    program.rows.append(row)
    program.most.append(most)


def _cut_cradle(program: _Program, index: int, angle: float) -> None:
    """Tangent cos U_cx + sin U_cy <= h of the cradle's norm."""
    along = np.array([0.0, 0.0, 0.0, np.cos(angle), np.sin(angle), 0.0])
    load = program.loads[index]
    row = np.zeros(program.width)
    row[: program.pieces] = program.per_piece @ along
    row[program.pieces + 2 * index] = -1.0
    _add(program, row, -float(along[3:] @ load.cradle))


def _cut_frame(program: _Program, index: int, angle: float) -> None:
    """Tangents cos (h +- U_fy) + sin (U_fz + U_cz) <= q of the frame's norm."""
    load = program.loads[index]
    for side in (-1.0, 1.0):
        along = np.array([0.0, side * np.cos(angle), np.sin(angle), 0.0, 0.0, np.sin(angle)])
        row = np.zeros(program.width)
        row[: program.pieces] = program.per_piece @ along
        row[program.pieces + 2 * index] = np.cos(angle)
        row[program.pieces + 2 * index + 1] = -1.0
        _add(program, row, -float(along[:3] @ load.frame + along[3:] @ load.cradle))


def _solve(
    program: _Program, cost: FloatArray, limit: float, *, ceiling: float, pieces: int | None
) -> tuple[FloatArray | None, bool]:
    """Numbers of pieces (pieces,) of least cost, exactly; None where there are none. And whether proved."""
    for_force = cost[-1] > 0.0
    best: FloatArray | None = None
    for _ in range(ROUNDS):
        found, optimal = _once(program, cost, ceiling, pieces)
        if found is None:
            return best, optimal
        numbers = np.round(found[: program.pieces])
        force, cuts = _exact(program, numbers)
        if force <= ceiling * (1.0 + AGREE) and (best is None or force < _exact(program, best)[0]):
            best = numbers
        aim = found[-1] if for_force else ceiling
        if force <= aim + AGREE * limit:
            return best, optimal
        if not optimal:
            return best, False
        for index, cradle_angle, frame_angle in cuts:
            _cut_cradle(program, index, cradle_angle)
            _cut_frame(program, index, frame_angle)
    return best, False


def _all_tried(program: _Program, count: int) -> FloatArray | None:
    """Numbers of pieces (pieces,) of least exact force among all sets of `count`; None where they are many."""
    if comb(program.pieces + count - 1, count) > ALL_OF:
        return None
    sets = np.array(list(combinations_with_replacement(range(program.pieces), count)))
    numbers_per_stock = [(row[sets] > 0.0).sum(axis=1) for row in program.stock]
    kept = np.all([n <= most for n, most in zip(numbers_per_stock, program.stock_most, strict=True)], axis=0)
    sets = sets[kept]
    extra = program.per_piece[sets].sum(axis=1)
    worst = np.zeros(len(sets))
    for load in program.loads:
        worst = np.maximum(worst, _pull(load.frame + extra[:, :3], load.cradle + extra[:, 3:], program.rims))
    return np.bincount(sets[int(np.argmin(worst))], minlength=program.pieces).astype(np.float64)


def _exact(program: _Program, numbers: FloatArray) -> tuple[float, list[tuple[int, float, float]]]:
    """Exact force [N] of these numbers of pieces, and for each load the angles of the tangents there."""
    extra = numbers @ program.per_piece
    force, cuts = 0.0, []
    for index, load in enumerate(program.loads):
        frame, cradle = load.frame + extra[:3], load.cradle + extra[3:]
        force = max(force, float(GRAVITY * _pull(frame, cradle, program.rims)))
        reach = abs(frame[1]) + np.hypot(cradle[0], cradle[1])
        angles = np.arctan2(cradle[1], cradle[0]), np.arctan2(frame[2] + cradle[2], reach)
        cuts.append((index, float(angles[0]), float(angles[1])))
    return force, cuts


def _once(
    program: _Program, cost: FloatArray, ceiling: float, pieces: int | None
) -> tuple[FloatArray | None, bool]:
    """One mixed-integer program: its columns (width,), or None; and whether it was solved to the end."""
    stock = np.zeros((len(program.stock), program.width))
    stock[:, : program.pieces] = program.stock
    constraints = [
        LinearConstraint(np.array(program.rows), -np.inf, np.array(program.most)),
        LinearConstraint(stock, -np.inf, program.stock_most),
    ]
    if pieces is not None:
        total = np.concatenate((np.ones(program.pieces), np.zeros(program.width - program.pieces)))
        constraints.append(LinearConstraint(total, pieces, pieces))
    most = np.full(program.width, np.inf)
    most[: program.pieces] = program.counts
    most[-1] = ceiling
    whole = np.zeros(program.width)
    whole[: program.pieces] = 1.0
    result = milp(
        cost,
        integrality=whole,
        bounds=Bounds(np.zeros(program.width), most),
        constraints=constraints,
        options={"time_limit": TIME_LIMIT, "mip_rel_gap": 1e-7},
    )
    if result.status == 4:
        raise SolverError(f"choice of counterweights failed: {result.message}: give fewer places or weights")
    return result.x, result.status in (0, 2)


def _hung(numbers: FloatArray, weights: Sequence[Weight], places: Sequence[Place]) -> tuple[Hung, ...]:
    pairs = [(weight, place) for weight in weights for place in places]
    return tuple(
        Hung(name=weight.name, mass=weight.mass, place=place.name, at=place.at, carrier=place.carrier)
        for count, (weight, place) in zip(numbers, pairs, strict=True)
        for _ in range(int(count))
    )
