"""Bodies of a surface: what hangs together, what lies inside what, and which way it faces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenwall.geometry.repair import volume_from
from evenwall.geometry.surface import FloatArray, IntArray, Surface, edge_keys, linked, without_unused
from evenwall.geometry.winding import winding

_MOST_NESTED = 60  # the largest bodies are tested for lying inside each other

Role = Literal["piece", "separate", "inner", "crossing", "scrap"]


@dataclass(frozen=True, kw_only=True)
class Body:
    """One body as it was found."""

    role: Role  # the piece itself, beside it, wholly inside it, crossing it, or an open scrap
    volume: float  # enclosed volume, positive [m3]
    area: float  # [m2]
    middle: tuple[float, float, float]  # middle of its box [m]
    span: float  # diagonal of its box [m]
    kept: bool  # part of the surface that is used


def body_labels(surface: Surface) -> IntArray:
    """Which body each face belongs to, from 0, shape (m,); bodies hang together over shared edges.

    Parts that only touch in a vertex are separate; parts that touch along an edge are one.
    """
    m = len(surface.faces)
    key = edge_keys(surface)
    order = np.argsort(key, kind="stable")
    same = np.diff(key[order]) == 0
    i, j = order[:-1][same] % m, order[1:][same] % m
    return linked(i, j, m)[1]


def parts_of(surface: Surface, labels: IntArray) -> list[Surface]:
    """The surface of each label, in the order of the labels."""
    order = np.argsort(labels, kind="stable")
    cuts = np.flatnonzero(np.diff(labels[order])) + 1
    return [
        without_unused(Surface(surface.vertices, surface.faces[np.sort(rows)]))
        for rows in np.split(order, cuts)
        if len(rows)
    ]


def volume_of(part: Surface) -> float:
    """Enclosed volume of a closed part, negative where it faces inwards [m3]."""
    return volume_from(part, part.vertices.mean(axis=0))


def depths(parts: list[Surface], volumes: FloatArray) -> IntArray:
    """How many of the larger parts each closed part lies in, shape (k,)."""
    order = np.argsort(-np.abs(volumes))[:_MOST_NESTED]
    boxes = [(p.vertices.min(axis=0), p.vertices.max(axis=0)) for p in parts]
    depth = np.zeros(len(parts), dtype=np.int64)
    for place, inner in enumerate(order):
        for outer in order[:place]:
            fits = (boxes[outer][0] <= boxes[inner][0]).all() and (boxes[inner][1] <= boxes[outer][1]).all()
            if fits and abs(winding(parts[outer], parts[inner].vertices[0])) > 0.5:
                depth[inner] += 1
    return depth
