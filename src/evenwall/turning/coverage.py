"""How evenly gravity takes all directions in the mold while the resin flows.

Only the time when the film still flows counts, and the thinner the resin the more: weigh by 1/viscosity
from the moment the pool has gone to gel. What happened while a pool still swept the wall is forgotten.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numba import njit
from scipy.spatial import cKDTree

from evenwall.errors import MotionError
from evenwall.turning.kinematics import GRAVITY, FloatArray, Motion, gravity

CAP: Final[float] = np.deg2rad(20.0)  # half angle of the patches of directions that are compared [rad]
STARVED_SHARE: Final[float] = 0.25  # of its even share: a patch with less is starved
GRID: Final[int] = 600  # directions at which the patches are centred
LEAST_WEIGHT: Final[float] = 0.01  # of the largest weight: a moment with less doesn't count as a visit
STEP: Final[float] = np.deg2rad(3.0)  # largest turn between two samples [rad]


@dataclass(frozen=True, kw_only=True)
class Evenness:
    """Evenness of the directions that gravity takes in the mold (mold axes, unit vectors)."""

    mean: FloatArray  # weighted mean direction [-], shape (3,); zero where even
    second_moment: FloatArray  # weighted mean of gg - I/3 [-], shape (3, 3); zero where even
    bias: float  # length of the mean [-]; 1 at rest, 0 where even
    skew: float  # largest eigenvalue of the second moment by size [-]; 0 where even, 2/3 at rest
    spread: float  # coefficient of variation of the share of equal patches [-]; 0 where even
    largest_gap: float  # angle from the most distant direction to the nearest visited one [rad]
    gap_direction: FloatArray  # that direction [-], shape (3,)
    starved: FloatArray  # centres of patches with under a quarter of their even share [-], shape (k, 3)
    starved_share: float  # fraction of all directions that are starved [-]


def evenness(
    motion: Motion,
    *,
    start: float,
    stop: float,
    weight_time: FloatArray | None = None,
    weight: FloatArray | None = None,
) -> Evenness:
    """Evenness of gravity's directions from `start` to `stop` [s].

    weight_time [s] and weight [any unit, e.g. 1/(Pa s)], both of shape (k,): how much a moment counts,
    linear between; every moment the same where not given.
    Raises MotionError where stop is not after start or no moment has weight.
    """
    time, directions = sampled(motion, start=start, stop=stop)
    weights = np.ones(time.size)
    if weight_time is not None and weight is not None:
        weights = np.interp(time, weight_time, weight)
    return of_directions(directions, weights)


def of_directions(directions: FloatArray, weights: FloatArray) -> Evenness:
    """Evenness of unit vectors (n, 3) with weights (n,), not negative [any unit]."""
    total = float(weights.sum())
    if not total > 0.0:
        raise MotionError(
            f"weight of the turning adds up to {total:g}: the resin must flow between start and stop"
        )
    share = weights / total
    mean = share @ directions
    second = np.einsum("n,ni,nj->ij", share, directions, directions) - np.eye(3) / 3.0
    grid = sphere_grid(GRID)
    patches = patch_shares(directions, weights, grid, half_angle=CAP) / even_share(CAP)
    gap, gap_direction = _emptiest(directions[weights >= LEAST_WEIGHT * weights.max()])
    starved = patches < STARVED_SHARE
    moments = np.linalg.eigvalsh(second)
    return Evenness(
        mean=mean,
        second_moment=second,
        bias=float(np.linalg.norm(mean)),
        skew=float(moments[np.argmax(np.abs(moments))]),
        spread=float(patches.std() / patches.mean()),
        largest_gap=gap,
        gap_direction=gap_direction,
        starved=grid[starved],
        starved_share=float(starved.mean()),
    )


def sampled(motion: Motion, *, start: float, stop: float) -> tuple[FloatArray, FloatArray]:
    """Midpoint times (n,) [s] and gravity's unit vectors (n, 3) in mold axes, equally spaced in time.

    Fine enough that neither axis turns more than 3 degrees between two samples.
    """
    if not stop > start:
        raise MotionError(
            f"turning stops at {stop:g} s, not after its start at {start:g} s: give a later stop"
        )
    fastest = float(np.abs(motion.frame_rate).max() + np.abs(motion.cradle_rate).max())
    count = int(np.clip(np.ceil(fastest * (stop - start) / STEP), 2_000, 200_000))
    time: FloatArray = start + (np.arange(count, dtype=np.float64) + 0.5) * ((stop - start) / count)
    return time, _directions(motion, time)


def even_share(half_angle: float) -> float:
    """Share [-] that an even pattern spends in a cap of this half angle [rad]: (1 - cos a)/2."""
    return 0.5 * (1.0 - float(np.cos(half_angle)))


def patch_shares(
    directions: FloatArray, weights: FloatArray, centres: FloatArray, *, half_angle: float
) -> FloatArray:
    """Weighted share (k,) [-] of the directions (n, 3) within `half_angle` [rad] of each centre (k, 3)."""
    shares: FloatArray = (
        _weight_in_caps(directions, weights, centres, float(np.cos(half_angle))) / weights.sum()
    )
    return shares


def sphere_grid(count: int) -> FloatArray:
    """`count` unit vectors, shape (count, 3), evenly spread over the sphere by the golden angle."""
    i = np.arange(count) + 0.5
    z = 1.0 - 2.0 * i / count
    angle = np.pi * (3.0 - np.sqrt(5.0)) * i
    ring = np.sqrt(1.0 - z * z)
    return np.column_stack((ring * np.cos(angle), ring * np.sin(angle), z))


def largest_gap(motion: Motion, *, start: float, stop: float) -> float:
    """Angle [rad] from the most distant direction to the nearest one that gravity took from `start` to `stop` [s]."""
    return _emptiest(sampled(motion, start=start, stop=stop)[1])[0]


def _emptiest(visited: FloatArray) -> tuple[float, FloatArray]:
    """Angle [rad] and direction (3,) of the centre of the largest empty cap, to about 2 degrees."""
    grid = sphere_grid(4 * GRID)
    chord, _ = cKDTree(visited).query(grid)
    worst = int(np.argmax(chord))
    return 2.0 * float(np.arcsin(min(0.5 * chord[worst], 1.0))), grid[worst]


@njit(cache=True)
def _weight_in_caps(
    directions: FloatArray, weights: FloatArray, centres: FloatArray, least_cosine: float
) -> FloatArray:
    out = np.zeros(centres.shape[0])
    for k in range(centres.shape[0]):
        x, y, z = centres[k, 0], centres[k, 1], centres[k, 2]
        inside = 0.0
        for i in range(directions.shape[0]):
            if x * directions[i, 0] + y * directions[i, 1] + z * directions[i, 2] >= least_cosine:
                inside += weights[i]
        out[k] = inside
    return out


@njit(cache=True)
def _directions(motion: Motion, time: FloatArray) -> FloatArray:
    out = np.empty((time.size, 3))
    for i in range(time.size):
        gx, gy, gz = gravity(motion, time[i])
        out[i, 0], out[i, 1], out[i, 2] = gx / GRAVITY, gy / GRAVITY, gz / GRAVITY
    return out
