"""A place on the wall in words: on which named side of the piece it lies, and toward which other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from evenwall.film.state import Floats
from evenwall.geometry.surface import Surface

Sides = Mapping[str, tuple[float, float, float]]

AXES: Final[dict[str, tuple[float, float, float]]] = {
    f"{sign}{name} side": (step * (name == "x"), step * (name == "y"), step * (name == "z"))
    for name in "xyz"
    for sign, step in (("+", 1.0), ("-", -1.0))
}
NAMED: Final = 0.7  # a side named by the user stands for every axis nearer to it than this cosine []
ALONG: Final = 0.35  # a second side is named where the place lies this far toward it []
STRAIGHT: Final = 0.94  # a direction is a side's own up to 20 degrees []
MIDDLE: Final = 0.25  # nearer to the middle than this share of the piece's half size []


def all_sides(sides: Sides) -> dict[str, Floats]:
    """The user's named sides as unit vectors (3,), and the mesh's own axes where no name stands for them."""
    found = {name: np.asarray(d, dtype=np.float64) / np.linalg.norm(d) for name, d in sides.items()}
    named = list(found.values())
    for name, axis in AXES.items():
        if all(float(np.asarray(axis) @ one) < NAMED for one in named):
            found[name] = np.asarray(axis)
    return found


def side_words(direction: tuple[float, float, float], sides: Sides) -> str:
    """What looks along `direction` (3,), e.g. "the face" or "what lies between the face and the +x side"."""
    ranked = _ranked(np.asarray(direction) / np.linalg.norm(direction), sides)
    if ranked[0][0] > STRAIGHT:
        return f"the {ranked[0][1]}"
    return f"what lies between the {ranked[0][1]} and the {ranked[1][1]}"


def place_words(at: Floats, wall: Surface, sides: Sides) -> str:
    """Where on the piece `at` (3,) [m] lies, e.g. "on the face, toward the +x side"."""
    low, high = wall.vertices.min(axis=0), wall.vertices.max(axis=0)
    out = (np.asarray(at) - 0.5 * (low + high)) / np.maximum(0.5 * (high - low), 1e-9)
    if np.linalg.norm(out) < MIDDLE:
        return "in the middle"
    toward = out / np.linalg.norm(out)
    ranked = _ranked(toward, sides)
    words = f"on the {ranked[0][1]}"
    if len(ranked) > 1 and ranked[1][0] > ALONG:
        words += f", toward the {ranked[1][1]}"
    return words


def _ranked(direction: Floats, sides: Sides) -> list[tuple[float, str]]:
    """Cosine and name of every side, that which looks most along the unit vector `direction` (3,) first."""
    return sorted(((float(d @ direction), name) for name, d in all_sides(sides).items()), reverse=True)
