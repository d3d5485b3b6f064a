"""The room that a coat leaves in a hollow, counted on a regular grid that is finest where the coat ends."""

from __future__ import annotations

from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation
from scipy.spatial import cKDTree

from evenwall.errors import heed
from evenwall.film.columns import columns, inside
from evenwall.film.state import Floats
from evenwall.film.transfer import corner_weights
from evenwall.geometry.remesh import Stop
from evenwall.geometry.surface import Surface
from evenwall.geometry.tree import Tree, closest, tree_of

BAND: Final = 2.0  # exact distances are taken within this many spacings of the coat's end
CROSSED: Final = (
    1.0  # a cell whose middle is farther than so many spacings from the coat's end is not cut by it
)
FINEST: Final = 2  # times that cells are halved at most

Integers = NDArray[np.int64]


class Cells(NamedTuple):
    """Cells of the grid, k of them, and the room in others that hold nothing of the coat's end."""

    axes: list[Floats]  # places of the cells' middles along x, y and z [m]
    place: Integers  # of each cell on the axes (k, 3)
    depth: Floats  # of its middle in the hollow, below 0 outside (k,) [m]
    coat: Floats  # thickness of the coat at the wall's closest point (k,) [m]
    surely: float  # room in other cells [m3]

    @property
    def spacing(self) -> float:
        """Distance of the cells' middles [m]."""
        return float(self.axes[0][1] - self.axes[0][0])


def counted(
    wall: Surface, thickness: Floats, axes: list[Floats], *, room: float, edge: float, stop: Stop | None
) -> tuple[Cells, float]:
    """All cells on `axes` in and next to the hollow, and the factor on `thickness` (n,) [m] that leaves `room` [m3].

    `edge` [m] is the wall's mean edge. Cells near the coat's end are halved until they are no larger than the
    coat is thick, FINEST times at most. A cell counts in part where the coat ends in it; what that errs by goes
    with the square of the spacing and is taken out by the last two spacings (Richardson, Phil. Trans. R. Soc. A
    210 (1911) 307). Raises StoppedError once stop() is true.
    """
    tree = tree_of(wall)
    cells = _all_cells(wall, thickness, axes)
    heed(stop)
    factor = factor_for([cells], room)
    beyond = np.abs(cells.depth - factor * cells.coat)
    near = (cells.depth < 0.0) | (beyond < BAND * cells.spacing + 0.6 * edge)
    cells.depth[near], cells.coat[near] = _exact(tree, wall, thickness, cells, near)
    heed(stop)
    factor = factor_for([cells], room)
    grids = [cells]
    mean = factor * float(thickness.mean())
    while len(grids) <= 1 or (len(grids) <= FINEST and grids[-1].spacing > mean):
        grids.append(_halved(tree, wall, thickness, grids[-1], factor))
        heed(stop)
    return cells, factor_for(grids[-2:], room)


def factor_for(grids: list[Cells], room: float) -> float:
    """Factor on all thicknesses with which the coat leaves `room` [m3] by one grid, or by two, the finer one last."""

    def left(factor: float) -> float:
        rooms = [_room(cells, factor) for cells in grids]
        return rooms[-1] + sum((fine - coarse) / 3.0 for coarse, fine in pairwise(rooms))

    low, high = 0.0, 1.0
    while left(high) > room and high < 1e4:
        high *= 2.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if left(middle) > room else (low, middle)
    return 0.5 * (low + high)


def _room(cells: Cells, factor: float) -> float:
    share = np.clip(0.5 + (cells.depth - factor * cells.coat) / cells.spacing, 0.0, 1.0)
    return cells.surely + float(share.sum()) * cells.spacing**3


def _all_cells(wall: Surface, thickness: Floats, axes: list[Floats]) -> Cells:
    """Every cell whose middle is in the hollow or next to it, with distances to the nearest of some wall points."""
    within = inside(columns(wall, axes[0], axes[1]), axes[2])
    rim = binary_dilation(within, np.ones((3, 3, 3), dtype=bool)) & ~within
    place = np.concatenate([np.argwhere(within), np.argwhere(rim)])
    samples = np.concatenate([wall.vertices, wall.vertices[wall.faces].mean(axis=1)])
    coats = np.concatenate([thickness, thickness[wall.faces].mean(axis=1)])
    depth, nearest = cKDTree(samples).query(_middles(axes, place), workers=-1)
    depth[np.count_nonzero(within) :] *= -1.0
    return Cells(axes, place, depth, coats[nearest], 0.0)


def _halved(tree: Tree, wall: Surface, thickness: Floats, cells: Cells, factor: float) -> Cells:
    """The cells near the coat's end, each cut into eight."""
    spacing = cells.spacing
    beyond = cells.depth - factor * cells.coat
    crossed = np.abs(beyond) < CROSSED * spacing
    axes = [np.repeat(axis, 2) + np.tile([-0.25, 0.25], len(axis)) * spacing for axis in cells.axes]
    eighths = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij"), axis=-1).reshape(-1, 3)
    place = (2 * cells.place[crossed][:, None, :] + eighths).reshape(-1, 3)
    within = inside(columns(wall, axes[0], axes[1]), axes[2])[tuple(place.T)]
    reach = np.repeat(np.abs(cells.depth[crossed]) + 0.5 * spacing, 8)
    empty = Cells(axes, place, np.where(within, reach, -reach), np.zeros(len(place)), 0.0)
    depth, coat = _exact(tree, wall, thickness, empty, np.ones(len(place), dtype=bool))
    surely = cells.surely + float(np.count_nonzero(~crossed & (beyond > 0.0))) * spacing**3
    return Cells(axes, place, depth, coat, surely)


def _exact(
    tree: Tree, wall: Surface, thickness: Floats, cells: Cells, which: NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Depth (k,) [m] of cells, no farther from the wall than they say, and the coat (k,) [m] at the foot."""
    known = cells.depth[which]
    found = closest(tree, _middles(cells.axes, cells.place[which]), within=np.abs(known) * (1.0 + 1e-9))
    face = wall.faces[found.face]
    weights = corner_weights(wall.vertices[face], found.foot)
    coat = np.asarray((weights * thickness[face]).sum(axis=1) / weights.sum(axis=1))
    return np.asarray(np.where(known < 0.0, -found.distance, found.distance)), coat


def _middles(axes: list[Floats], place: Integers) -> Floats:
    return np.stack([axis[place[:, k]] for k, axis in enumerate(axes)], axis=1)
