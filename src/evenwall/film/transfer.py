"""From one mesh of a wall to another: fields per area, carried so that their integral stays exact."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy import sparse

from evenwall.film.findings import averaging
from evenwall.film.operators import inward_normals
from evenwall.film.state import Floats
from evenwall.geometry.surface import Surface, area_vectors
from evenwall.geometry.tree import closest, tree_of

PATCHES: Final = 12  # nodes that a patch of `crowding` averages over
ROUNDS: Final = 30  # of matching rows and columns; the columns come last and are exact


def third_areas(surface: Surface) -> Floats:
    """Area [m2] that each node stands for, a third of its faces', shape (n,)."""
    third = np.linalg.norm(area_vectors(surface), axis=1) / 3.0
    return np.asarray(
        np.bincount(surface.faces.ravel(), weights=np.repeat(third, 3), minlength=len(surface.vertices))
    )


def interpolation(source: Surface, target: Surface) -> sparse.csr_array:
    """Operator (n target, n source) that reads values where the target's nodes are closest; rows sum to 1.

    Only places that look the same way count, so that nothing jumps through a thin part.
    """
    found = closest(tree_of(source), target.vertices, facing=-inward_normals(target))
    face = source.faces[found.face]
    weights = corner_weights(source.vertices[face], found.foot)
    weights /= weights.sum(axis=1, keepdims=True)
    rows = np.repeat(np.arange(len(target.vertices)), 3)
    return sparse.csr_array(
        (weights.ravel(), (rows, face.ravel())), shape=(len(target.vertices), len(source.vertices))
    )


def corner_weights(corner: Floats, point: Floats) -> Floats:
    """Weights (k, 3) [m2] of the corners (k, 3, 3) of triangles at points in them (k, 3), all above 0.

    Each is twice the area of the triangle that the point makes with the other two corners.
    """
    areas = [
        np.linalg.norm(np.cross(corner[:, (k + 1) % 3] - point, corner[:, (k + 2) % 3] - point), axis=1)
        for k in range(3)
    ]
    return np.asarray(np.stack(areas, axis=1) + 1e-300)


def transfer(
    source: Surface,
    target: Surface,
    *,
    source_areas: Floats,
    target_areas: Floats,
    density: Floats | None = None,
) -> sparse.csr_array:
    """Operator (n target, n source) for fields per area, with sum(target_areas T f) = sum(source_areas f).

    `source_areas` and `target_areas` [m2] are the node areas. Without `density` a constant stays constant
    (two meshes of one wall: to about 1e-3); with it, (n target,) [] target nodes get that many times their
    share, for walls whose areas differ. Weights are linear interpolation from both sides, matched to both
    meshes' areas in turn (Sinkhorn & Knopp 1967, Pacific J. Math. 21, 343).
    """
    there = sparse.diags_array(target_areas) @ interpolation(source, target)
    back = sparse.diags_array(source_areas) @ interpolation(target, source)
    plan = sparse.csr_array(0.5 * (there + back.T))
    wanted = target_areas * (1.0 if density is None else density)
    wanted = wanted * (source_areas.sum() / wanted.sum())
    rows = np.ones(len(target_areas))
    columns = np.ones(len(source_areas))
    for _ in range(ROUNDS):
        rows = wanted / np.maximum(plan @ columns, 1e-300)
        columns = source_areas / np.maximum(plan.T @ rows, 1e-300)
    matched = sparse.diags_array(rows / target_areas) @ plan @ sparse.diags_array(columns)
    return sparse.csr_array(matched)


def crowding(source: Surface, target: Surface, source_areas: Floats, target_areas: Floats) -> Floats:
    """Area of the source that each node of the target stands for, over its own (n target,) [], evened out.

    For two walls one inside the other: above 1 where the inner one is hollow and so has less area.
    """
    weight = interpolation(target, source).T @ source_areas
    size = PATCHES * float(target_areas.mean())
    patches = averaging(target.vertices, -inward_normals(target), target_areas, size=size)
    return np.asarray(patches @ (weight / target_areas))
