"""How much of a wall bends more sharply toward the film than its mesh can follow."""

from __future__ import annotations

from typing import Final

from evenwall.film.state import Floats
from evenwall.geometry.curvature import curvatures
from evenwall.geometry.surface import Surface, even_edge

SCALE: Final = 2e-3  # length that curvature is averaged over [m]
FOLLOWED: Final = 0.4  # a ridge that turns by more than this from node to node is not followed [rad]
TELLING: Final = 0.10  # share of the wall from which such ridges decide its thin places []


def unfollowed(wall: Surface, areas: Floats) -> float:
    """Share [] of the `wall`'s area, node `areas` (n,) [m2], on ridges that turn by over FOLLOWED from node to node.

    A ridge has the curvature -k2 > 0 [1/m].
    """
    turn = curvatures(wall, scale=SCALE).ridge * even_edge(areas)
    return float(areas[turn > FOLLOWED].sum() / areas.sum())


def said_of_ridges(share: float) -> tuple[str, ...]:
    """What the mesh does to thin places where the `share` [] of the wall is `unfollowed`, a sentence."""
    if share < TELLING:
        return ()
    return (
        f"Ridges of the mold that are finer than this mesh make up {share:.0%} of its wall: the thin places on them"
        " come out too thick, and a finer forecast shows them thinner.",
    )
