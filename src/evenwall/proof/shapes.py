"""Walls of simple shape for the published cases: plates, tubes and balls, with uneven triangles on purpose."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenwall.geometry.surface import Surface, turned_round

Floats = NDArray[np.float64]
UNEVEN = 0.12  # nodes are moved by up to this share of their spacing []


def _grid(along: int, across: int, *, around: bool) -> NDArray[np.int64]:
    """Faces of a grid of nodes, `along` times `across`; with `around` the first direction closes."""
    rows = along if around else along - 1
    i, j = (a.ravel() for a in np.meshgrid(np.arange(rows), np.arange(across - 1), indexing="ij"))
    a, b = i * across + j, (i + 1) % along * across + j
    c, d = b + 1, a + 1
    odd = ((i + j) % 2 == 1)[:, None]
    first = np.where(odd, np.stack([a, b, c], 1), np.stack([a, b, d], 1))
    second = np.where(odd, np.stack([a, c, d], 1), np.stack([b, c, d], 1))
    return np.concatenate([first, second])


def _shaken(count: int, closed: bool, spacing: float, other: int, uneven: float) -> Floats:
    shift = np.random.default_rng(1).uniform(-uneven, uneven, (count, other)) * spacing
    if not closed:
        shift[[0, -1]] = 0.0
    return np.asarray(shift)


def plate(length: float, spacing: float, *, rows: int = 5, uneven: float = UNEVEN) -> Surface:
    """A flat strip [m] along y, `rows` nodes wide, open at its rims; its liquid lies on the +z side."""
    along = round(length / spacing) + 1
    y = np.linspace(0.0, length, along)[:, None] + _shaken(along, False, spacing, rows, uneven)
    x = np.broadcast_to(spacing * np.arange(rows), (along, rows))
    points = np.stack([x, y, np.zeros_like(x)], axis=-1).reshape(-1, 3)
    return _facing(Surface(points, _grid(along, rows, around=False)), np.array([0.0, 0.0, 1.0]))


def tube(radius: float, around: int, *, rows: int = 5, uneven: float = UNEVEN) -> Surface:
    """A short piece of a tube [m] about the x axis, open at both ends; its liquid lies inside."""
    spacing = 2.0 * np.pi * radius / around
    angle = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)[:, None]
    angle = angle + _shaken(around, True, spacing / radius, rows, uneven)
    x = np.broadcast_to(spacing * np.arange(rows), angle.shape)
    points = np.stack([x, radius * np.cos(angle), radius * np.sin(angle)], axis=-1).reshape(-1, 3)
    surface = Surface(points, _grid(around, rows, around=True))
    first = surface.vertices[surface.faces[0]]
    outward = np.cross(first[1] - first[0], first[2] - first[0]) @ (first[0] * [0.0, 1.0, 1.0])
    return surface if outward > 0.0 else turned_round(surface)


def ball(radius: float, *, rounds: int = 4) -> Surface:
    """A sphere [m] from an icosahedron whose faces were split `rounds` times; its liquid lies inside."""
    from trimesh.creation import icosphere

    mesh = icosphere(subdivisions=rounds, radius=radius)
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def _facing(surface: Surface, inward: Floats) -> Surface:
    first = surface.vertices[surface.faces[0]]
    outward = np.cross(first[1] - first[0], first[2] - first[0])
    return surface if outward @ inward < 0.0 else turned_round(surface)
