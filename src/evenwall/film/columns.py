"""Straight lines through a closed solid: where each line of a regular grid enters and leaves it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.film.state import Floats
from evenwall.geometry.surface import Surface

Integers = NDArray[np.int64]


class Columns(NamedTuple):
    """Lines along z over a grid in x and y, and the heights at which each passes the surface."""

    x: Floats  # of the lines [m], (nx,)
    y: Floats  # of the lines [m], (ny,)
    start: Integers  # first crossing of line i * ny + j, and the end, (nx * ny + 1,)
    height: Floats  # z of the crossings, rising within a line, in and out by turns [m]


def columns(surface: Surface, x: Floats, y: Floats) -> Columns:
    """Crossings of the closed `surface` with lines along z at evenly spaced `x` (nx,) and `y` (ny,) [m]."""
    triangles = surface.vertices[surface.faces]
    count = np.zeros(len(x) * len(y) + 1, dtype=np.int64)
    _cross(triangles, x, y, count, np.zeros(0), False)
    start = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(count[:-1])])
    height = np.empty(int(start[-1]))
    _cross(triangles, x, y, start.copy(), height, True)
    _sort_each(start, height)
    return Columns(x, y, start, height)


def inside(lines: Columns, z: Floats) -> NDArray[np.bool_]:
    """Which grid points (nx, ny, nz) lie in the solid that the lines cross; `z` (nz,) [m] rises."""
    filled = np.zeros((len(lines.x), len(lines.y), len(z)), dtype=np.bool_)
    _fill(lines.start, lines.height, z, filled.reshape(-1, len(z)))
    return filled


@njit(cache=True)
def _side(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> bool:
    """Whether p is left of the line a to b; both ways along an edge the answers are opposite, ties too."""
    if ax < bx or (ax == bx and ay < by):
        return (bx - ax) * (py - ay) - (by - ay) * (px - ax) >= 0.0
    return not ((ax - bx) * (py - by) - (ay - by) * (px - bx) >= 0.0)


@njit(cache=True)
def _cross(triangles: Floats, x: Floats, y: Floats, place: Integers, height: Floats, write: bool) -> None:
    """Count the crossings of each line in `place`, or `write` their heights where `place` says."""
    nx, ny = len(x), len(y)
    dx = x[1] - x[0] if nx > 1 else 1.0
    dy = y[1] - y[0] if ny > 1 else 1.0
    for t in range(len(triangles)):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        first_i = max(0, int(np.floor((min(a[0], b[0], c[0]) - x[0]) / dx)))
        last_i = min(nx - 1, int(np.ceil((max(a[0], b[0], c[0]) - x[0]) / dx)))
        first_j = max(0, int(np.floor((min(a[1], b[1], c[1]) - y[0]) / dy)))
        last_j = min(ny - 1, int(np.ceil((max(a[1], b[1], c[1]) - y[0]) / dy)))
        twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        for i in range(first_i, last_i + 1):
            for j in range(first_j, last_j + 1):
                one = _side(x[i], y[j], a[0], a[1], b[0], b[1])
                if one != _side(x[i], y[j], b[0], b[1], c[0], c[1]):
                    continue
                if one != _side(x[i], y[j], c[0], c[1], a[0], a[1]):
                    continue
                line = i * ny + j
                if write:
                    z = (a[2] + b[2] + c[2]) / 3.0
                    if twice != 0.0:
                        u = ((x[i] - a[0]) * (c[1] - a[1]) - (y[j] - a[1]) * (c[0] - a[0])) / twice
                        v = ((b[0] - a[0]) * (y[j] - a[1]) - (b[1] - a[1]) * (x[i] - a[0])) / twice
                        z = a[2] + u * (b[2] - a[2]) + v * (c[2] - a[2])
                    height[place[line]] = z
                place[line] += 1


@njit(cache=True)
def _sort_each(start: Integers, height: Floats) -> None:
    for line in range(len(start) - 1):
        for k in range(start[line] + 1, start[line + 1]):
            z = height[k]
            back = k
            while back > start[line] and height[back - 1] > z:
                height[back] = height[back - 1]
                back -= 1
            height[back] = z


@njit(cache=True)
def _fill(start: Integers, height: Floats, z: Floats, filled: NDArray[np.bool_]) -> None:
    for line in range(len(start) - 1):
        k = start[line]
        state = False
        for m in range(len(z)):
            while k < start[line + 1] and height[k] <= z[m]:
                state = not state
                k += 1
            filled[line, m] = state
