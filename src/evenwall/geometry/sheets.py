"""Sheets that hang on an edge of three or more faces: fins, and walls inside the piece."""

from __future__ import annotations

import numpy as np

from evenwall.geometry.repair import DROP_SHEETS, BoolArray, Step, faces_alike, repair, volume_from
from evenwall.geometry.surface import IntArray, Surface, bounds, edge_keys, edges, face_areas, without_unused

_MOST_ROUNDS = 20
_MOST_PATCHES = 200  # tried in one round, smallest first


def drop_sheets(surface: Surface) -> Step:
    """Drop patches that hang on an edge of three or more faces, where the rest is better closed without.

    Of three patches along a loop the one goes that leaves most volume. A patch of more than half the area
    always stays.
    """
    before = surface
    dropped = np.zeros(0, dtype=bool)
    alive = np.arange(len(surface.faces))
    for _ in range(_MOST_ROUNDS):
        _, uses = edges(surface)
        if not (uses > 2).any():
            break
        sheet = _worst_sheet(surface, int((uses % 2).sum()))
        if sheet is None:
            break
        alive = alive[~sheet]
        surface = Surface(surface.vertices, surface.faces[~sheet])
    if len(alive) == len(before.faces):
        return before, None
    dropped = np.ones(len(before.faces), dtype=bool)
    dropped[alive] = False
    places = before.vertices[before.faces[dropped]].reshape(-1, 3)
    after = without_unused(surface)
    return after, repair(DROP_SHEETS, before, after, count=int(dropped.sum()), what="faces", places=places)


def _worst_sheet(surface: Surface, faults: int) -> BoolArray | None:
    """Faces of the patch whose loss leaves fewest edges with an odd number of faces, then most volume."""
    _, patch = faces_alike(surface)
    areas = np.bincount(patch, face_areas(surface))
    hanging = np.unique(patch[_on_shared_edges(surface)])
    hanging = hanging[areas[hanging] <= 0.5 * areas.sum()]
    best: BoolArray | None = None
    best_score = (faults, 0.0)
    for candidate in hanging[np.argsort(areas[hanging])][:_MOST_PATCHES]:
        sheet = np.asarray(patch == candidate)
        rest = Surface(surface.vertices, surface.faces[~sheet])
        _, uses = edges(rest)
        score = (int((uses % 2).sum()), -_volume_turned_alike(rest))
        if score[0] < faults and score < best_score:
            best, best_score = sheet, score
    return best


def _on_shared_edges(surface: Surface) -> IntArray:
    """Faces with an edge of three or more faces."""
    _, inverse, counts = np.unique(edge_keys(surface), return_inverse=True, return_counts=True)
    return np.unique(np.flatnonzero(counts[inverse] > 2) % len(surface.faces))


def _volume_turned_alike(surface: Surface) -> float:
    turn, _ = faces_alike(surface)
    faces = surface.faces.copy()
    faces[turn] = faces[turn][:, ::-1]
    return abs(volume_from(Surface(surface.vertices, faces), bounds(surface).mean(axis=0)))
