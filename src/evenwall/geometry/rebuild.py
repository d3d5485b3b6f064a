"""A scan that can't be mended becomes a closed wall: where its skin winds round more than half a time is inside."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from scipy.ndimage import minimum_filter

from evenwall.errors import MeshError
from evenwall.geometry.bodies import body_labels
from evenwall.geometry.field import surface_of_samples
from evenwall.geometry.repair import BoolArray
from evenwall.geometry.surface import (
    FloatArray,
    IntArray,
    Surface,
    area_vectors,
    bounds,
    even_edge,
    face_areas,
    without_unused,
)
from evenwall.geometry.tree import Tree, closest, first_hit, tree_of
from evenwall.geometry.winding import far_fields, winding_numbers

NODES: Final = 20_000  # the wall is sampled finely enough for a forecast of so many nodes
FINER: Final = 0.6  # spacing of the samples over the edge of such a forecast []
MOST_CELLS: Final = 2.5e7  # of the grid
COARSE: Final = 4  # the first samples stand so many spacings apart
STEEP: Final = 6.0  # how fast the depth saturates beside the half winding, in depths a winding []
NEAR_HALF: Final = 0.12  # winding numbers nearer to one half than this are sampled finely []
CLEAR: Final = 0.25  # winding numbers farther from one half than this are clear []
BUBBLE: Final = 4.0  # bodies smaller than a cube of so many spacings are noise
CLOSED_OVER: Final = 1.5  # wall farther from the scan's skin than so many spacings closes an opening
RAYS: Final = 24  # to each side of a patch, to see which side is outside
MOST_RAYS: Final = 200_000  # in all; of loose triangles too many for that, each looks as it does
COARSEST: Final = 0.05  # spacing over the longest extent; a skin of more area than that allows is a tangle []
MOST_SAMPLES: Final = 3_000_000  # of the finest grid, ten times what a skin needs
_TANGLE: Final = "the scan is a tangle that fills its box, no skin round a piece: scan it again"


@dataclass(frozen=True, kw_only=True)
class Rebuilt:
    """The closed wall, and how far it is from the skin that it was made from."""

    surface: Surface  # closed, outward; triangles of marching cubes [m]
    spacing: float  # of the samples [m]; detail finer than this is gone
    lost_p95: float  # 95 % of the skin on the wall's side lies nearer than this to the wall [m]
    closed_over: BoolArray  # faces that close an opening of the skin, (m,)


def rebuilt(skin: Surface, *, spacing: float | None = None) -> Rebuilt:
    """The closed wall round all that `skin` winds round more than half a time.

    The skin may be open, cross or overlap itself or consist of loose triangles, as long as most of them look
    outwards (`facing_out`). Near it the wall is where the distance to it is zero, across its openings where
    the winding number is one half (Jacobson et al. 2013, ACM Trans. Graph. 32(4) 33): a flat rim is closed
    flat. Detail below about `spacing` [m] is lost; without one it suits a forecast of NODES nodes.
    Raises MeshError where nothing is enclosed.
    """
    tree = tree_of(skin)
    low, high = bounds(skin)
    step = spacing or spacing_for(skin)
    depth, origin = _depth(tree, low, high, step)
    try:
        whole = surface_of_samples(depth, origin=origin, spacing=step)
    except MeshError:
        raise MeshError(
            f"the scan of {len(skin.faces):,} faces encloses nothing: most of its skin is missing, scan it again"
        ) from None
    surface = _without_bubbles(whole, step)
    near = closest(tree, surface.vertices[surface.faces].mean(axis=1))
    away = near.distance > CLOSED_OVER * step
    back = closest(tree_of(surface), _samples(skin, surface, step)).distance
    return Rebuilt(
        surface=surface,
        spacing=step,
        lost_p95=float(np.quantile(back, 0.95)) if len(back) else 0.0,
        closed_over=np.asarray(away),
    )


def facing_out(skin: Surface, patch: IntArray) -> BoolArray:
    """Which faces are to be turned so that every patch (label of each face, (m,)) looks outwards.

    From places on a patch, rays go out to both sides; outside is where more of them get away.
    Source: Takayama et al. 2014, A simple method for correcting facet orientations in polygon meshes based
    on ray casting, JCGT 3(4) 53-63.
    """
    count = int(patch.max()) + 1
    rays = min(RAYS, MOST_RAYS // count)
    if rays < 4:
        return np.zeros(len(skin.faces), dtype=bool)
    size = face_areas(skin)
    order = np.lexsort((-size, patch))
    first = np.searchsorted(patch[order], np.arange(count))
    members = np.bincount(patch, minlength=count)
    rng = np.random.default_rng(7)
    picks = np.minimum(
        first[:, None] + (rng.random((count, rays)) ** 2 * members[:, None]).astype(int), len(order) - 1
    )
    faces = order[picks].ravel()
    vector = area_vectors(skin)[faces]
    normal = vector / np.maximum(np.linalg.norm(vector, axis=1, keepdims=True), 1e-300)
    ways = rng.normal(size=normal.shape)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    ways += 1.05 * normal  # spread as the cosine, never along the face
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    middle = skin.vertices[skin.faces[faces]].mean(axis=1)
    tree = tree_of(skin)
    skip = 1e-9 * float(np.ptp(skin.vertices, axis=0).max())
    mirrored = ways - 2.0 * np.einsum("ij,ij->i", ways, normal)[:, None] * normal
    free = [
        np.isinf(first_hit(tree, middle, way, skip=skip)).reshape(count, rays).sum(axis=1)
        for way in (ways, mirrored)
    ]
    return np.asarray((free[1] > free[0])[patch])


def spacing_for(skin: Surface) -> float:
    """Spacing that suits a forecast of NODES nodes and a grid of MOST_CELLS [m]; MeshError for a tangle."""
    low, high = bounds(skin)
    edge = float(even_edge(face_areas(skin).sum() / NODES))
    step = max(FINER * edge, float(np.cbrt(np.prod(high - low + 8.0 * edge) / MOST_CELLS)))
    if step > COARSEST * float((high - low).max()):
        raise MeshError(_TANGLE)
    return step


def _depth(tree: Tree, low: FloatArray, high: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Depth into the piece on a grid [m], true near the wall only, and the grid's first point [m].

    Coarse samples first; finer ones where the wall may pass: near the skin, and where the winding number
    is near one half.
    """
    fields = far_fields(tree)
    cells = np.ceil((high - low + 4.62 * step) / (COARSE * step)).astype(int)
    # an odd fraction of the spacing keeps grid lines off the vertices of symmetric pieces
    origin = 0.5 * (low + high) - 0.5 * COARSE * step * cells + 0.137 * step
    size = COARSE
    shape = tuple(int(n) + 1 for n in cells)
    at = np.stack(np.meshgrid(*(np.arange(n) for n in shape), indexing="ij"), axis=-1).reshape(-1, 3)
    points = origin + size * step * at
    distance = closest(tree, points).distance.reshape(shape)
    turn = winding_numbers(tree, fields, points).reshape(shape) - 0.5
    while size > 1:
        reach = (0.5 * np.sqrt(3.0) * size + 1.0) * step
        wanted = (_least(distance) <= reach) | (_least(np.abs(turn)) < NEAR_HALF)
        wanted |= _least(np.sign(turn)) != -_least(-np.sign(turn))
        size //= 2
        distance, turn = _twice(distance), _twice(turn)
        at = _new_points(wanted[:-1, :-1, :-1], distance.shape)
        if len(at) > MOST_SAMPLES:
            raise MeshError(_TANGLE)
        _sample(tree, fields, origin, size * step, at, distance, turn)
    far = 4.0 * step
    return np.clip(distance * np.clip(STEEP * turn, -1.0, 1.0), -far, far), origin


def _new_points(cells: BoolArray, shape: tuple[int, ...]) -> IntArray:
    """The points (k, 3) of a grid of this shape that lie in these cells of the grid twice as coarse, but not on it."""
    mask = np.zeros(shape, dtype=bool)
    for i, j, k in product(range(3), repeat=3):
        ends = (slice(start, start + 2 * n, 2) for start, n in zip((i, j, k), cells.shape, strict=True))
        mask[tuple(ends)] |= cells
    mask[::2, ::2, ::2] = False
    return np.argwhere(mask)


def _sample(
    tree: Tree,
    fields: FloatArray,
    origin: FloatArray,
    spacing: float,
    at: IntArray,
    distance: FloatArray,
    turn: FloatArray,
) -> None:
    """Write distance and winding number at the grid points `at` (k, 3), which lie between known ones.

    Where a ball about a point or its known neighbour reaches the other without meeting the skin, both are on
    one side: a neighbour's clear answer is taken.
    """
    points = origin + spacing * at
    odd = at % 2
    apart = spacing * np.linalg.norm(odd, axis=1)
    known = tuple((at - odd).T)
    found = closest(tree, points, within=(distance[known] + apart) * (1.0 + 1e-9)).distance
    answer = np.full(len(at), np.nan)
    for signs in product((-1, 1), repeat=3):
        beside = tuple((at + odd * np.array(signs)).T)
        clear = np.abs(turn[beside]) > CLEAR
        same_side = np.maximum(found, distance[beside]) > 1.01 * apart
        answer = np.where(clear & same_side, turn[beside], answer)
    left = np.isnan(answer)
    answer[left] = winding_numbers(tree, fields, points[left]) - 0.5
    distance[tuple(at.T)], turn[tuple(at.T)] = found, answer


def _least(values: FloatArray) -> FloatArray:
    """Least value at the eight corners of the cell that begins at each point, same shape."""
    return np.asarray(minimum_filter(values, 2, origin=-1))


def _twice(values: FloatArray) -> FloatArray:
    """The grid at half the spacing, new points like a neighbour."""
    for axis in range(3):
        values = np.repeat(values, 2, axis=axis)
        values = np.delete(values, -1, axis=axis)
    return values


def _without_bubbles(surface: Surface, step: float) -> Surface:
    """The surface without its bodies of a few grid cells, which are noise; the largest always stays."""
    labels = body_labels(surface)
    count = int(labels.max()) + 1
    if count == 1:
        return surface
    corner = surface.vertices[surface.faces] - surface.vertices.mean(axis=0)
    size = np.abs(np.bincount(labels, np.linalg.det(corner) / 6.0, minlength=count))
    keep = size >= min(float(size.max()), (BUBBLE * step) ** 3)
    return without_unused(Surface(surface.vertices, surface.faces[keep[labels]]))


def _samples(skin: Surface, wall: Surface, step: float) -> FloatArray:
    """Middles of the skin's faces that are not inside the wall by far, (k, 3) [m]."""
    middles = skin.vertices[skin.faces].mean(axis=1)
    if len(middles) > 40_000:
        middles = middles[:: len(middles) // 40_000 + 1]
    tree = tree_of(wall)
    inside = winding_numbers(tree, far_fields(tree), middles) > 0.5
    deep = inside & (closest(tree, middles).distance > 3.0 * step)
    return np.asarray(middles[~deep])
