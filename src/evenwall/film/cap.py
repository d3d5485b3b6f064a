"""What of the wall stays on the casting: not the skin on a board that is trimmed off, nor that on a plug."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from evenwall.film.state import Cap, Closing, Floats
from evenwall.geometry.surface import Surface, area_vectors, corners
from evenwall.geometry.tree import Tree, closest, tree_of

LEFT_OUT: Final = (
    "The skin on the board or plug comes off: the figures and the findings on the wall leave it out."
)
COUNTED: Final = (
    "Where the board or plug sits is not known: the figures count the skin that comes off with it."
)


def kept_areas(surface: Surface, areas: Floats, closing: Closing) -> Floats:
    """The node `areas` (n,) [m2] of a coat's `surface` without what comes off with board or plug.

    A face of it belongs to the cap where the nearest place of the piece's wall that looks the same way does; a
    node keeps the share of its faces that stay. All is kept where nothing comes off or the place is not known.
    """
    if closing.cap is None or not closing.comes_off:
        return areas
    outward = area_vectors(surface)
    sizes = np.linalg.norm(outward, axis=1)
    near = closest(_tree(closing.cap), corners(surface).mean(axis=1), facing=outward)
    stays = ~np.isin(near.face, closing.cap.faces)
    shares = [
        np.bincount(surface.faces.ravel(), np.repeat(part, 3), minlength=len(areas))
        for part in (sizes * stays, sizes)
    ]
    return areas * shares[0] / np.maximum(shares[1], 1e-300)


def said_of_cap(closing: Closing) -> tuple[str, ...]:
    """What the figures do with a skin that comes off, a sentence."""
    if not closing.comes_off:
        return ()
    return (COUNTED,) if closing.cap is None else (LEFT_OUT,)


@lru_cache(maxsize=2)
def _tree(cap: Cap) -> Tree:
    return tree_of(cap.wall)
