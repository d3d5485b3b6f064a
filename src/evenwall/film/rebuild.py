"""The wall under a coat that fills hollows: rebuilt from the distance to the wall before, then remeshed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import csgraph

from evenwall.errors import SolverError, heed
from evenwall.film.findings import neighbours
from evenwall.film.operators import inward_normals
from evenwall.film.room import counted
from evenwall.film.state import Floats
from evenwall.geometry.field import surface_of_samples
from evenwall.geometry.remesh import LEAST_NODES, Stop, evened
from evenwall.geometry.solid import area
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, even_edge, without_unused

SPACING: Final = 0.6  # grid spacing over the edge length of the wanted mesh []
MOST_CELLS: Final = 4.0e6  # of the grid over the wall's box
ROUNDS: Final = 4  # of fitting the volume


@dataclass(frozen=True, kw_only=True)
class Inmost:
    """The hollow that a coat leaves."""

    surface: Surface  # mold axes [m]
    scale: float  # thicknesses were multiplied by this []
    cut_off: float  # volume of further hollows that the coat closed off [m3]
    cut_off_at: tuple[float, float, float]  # middle of the largest of them, mold axes [m]
    shift: float  # how far the wall was moved along its normals in the end to hold the volume [m]


def rebuilt(
    wall: Surface, thickness: Floats, *, volume: float, even: bool = True, stop: Stop | None = None
) -> Inmost:
    """The hollow left by a coat of `thickness` (n,) [m] on the `wall`'s n nodes that holds `volume` [m3].

    A point of the hollow is coat where the closest point of the wall has a coat thicker than its distance.
    All thicknesses are multiplied by the one factor that gives the volume. Hollows that the coat cuts off
    from the largest one stay empty and are counted. The new wall is as fine as the old one, or made of the
    grid's triangles where it need not be `even`. Raises StoppedError once stop() is true.
    """
    nodes = len(wall.vertices)
    edge = float(even_edge(area(wall) / nodes))
    low, high = wall.vertices.min(axis=0), wall.vertices.max(axis=0)
    spacing = max(SPACING * edge, float(np.prod(high - low) / MOST_CELLS) ** (1.0 / 3.0))
    # an odd fraction of the spacing keeps grid lines off the vertices of symmetric pieces
    axes = [np.arange(a - 2.31 * spacing, b + 2.5 * spacing, spacing) for a, b in zip(low, high, strict=True)]
    cells, scale = counted(wall, thickness, axes, room=enclosed(wall) - volume, edge=edge, stop=stop)
    field = np.full([len(axis) for axis in axes], -3.0 * spacing)
    field[tuple(cells.place.T)] = np.clip(cells.depth - scale * cells.coat, -3.0 * spacing, 3.0 * spacing)
    origin = [axis[0] for axis in axes]
    bodies = _bodies(surface_of_samples(field, origin=origin, spacing=spacing))
    heed(stop)
    rest = sum(enclosed(body) for body in bodies[1:])
    wanted = max(LEAST_NODES, round(nodes * area(bodies[0]) / area(wall)))
    inmost = evened(bodies[0], nodes=wanted, stop=stop) if even else bodies[0]
    left = enclosed(wall) - volume - rest
    if left <= 0.0:
        raise SolverError(
            "a coat closed the hollow in several places at once: pour less, or use a finer mesh"
        )
    surface, shift = _fitted(inmost, left)
    x, y, z = (bodies[1] if len(bodies) > 1 else surface).vertices.mean(axis=0)
    return Inmost(
        surface=surface, scale=scale, cut_off=rest, cut_off_at=(float(x), float(y), float(z)), shift=shift
    )


def _bodies(surface: Surface) -> list[Surface]:
    """The surface's closed bodies that enclose a hollow, largest first."""
    _, labels = csgraph.connected_components(neighbours(surface), directed=False)
    owner = labels[surface.faces[:, 0]]
    parts = [
        without_unused(Surface(surface.vertices, surface.faces[owner == one])) for one in np.unique(owner)
    ]
    hollows = [part for part in parts if enclosed(part) > 0.0]
    return sorted(hollows, key=enclosed, reverse=True)


def _fitted(surface: Surface, left: float) -> tuple[Surface, float]:
    """The surface moved along its normals by one small distance so that it encloses `left` [m3]."""
    moved = 0.0
    for _ in range(ROUNDS):
        step = (left - enclosed(surface)) / area(surface)
        surface = Surface(surface.vertices - step * inward_normals(surface), surface.faces)
        moved += step
    return surface, moved
