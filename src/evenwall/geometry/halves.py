"""Two halves of one piece that were scanned one by one: open parts whose rims face each other."""

from __future__ import annotations

from itertools import combinations
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from evenwall.geometry.bodies import body_labels
from evenwall.geometry.holes import Hole
from evenwall.geometry.mended import Halves
from evenwall.geometry.surface import Surface

_GAP: Final = 0.15  # rims belong together where they are nearer than this share of their width []
_ALIKE: Final = 0.25  # ... and their widths differ by no more than this share []
_OPPOSED: Final = -0.5  # ... and they look at each other: cosine between their normals []


def halves_of(skin: Surface, holes: tuple[Hole, ...]) -> tuple[Hole, Hole, Halves] | None:
    """The first two wide holes of different parts that belong together, or None; `holes` are the wide ones."""
    labels = body_labels(skin)
    label = np.zeros(len(skin.vertices), dtype=np.int64)
    label[skin.faces] = labels[:, None]
    for one, other in combinations(holes, 2):
        if label[one.rim[0]] == label[other.rim[0]] or float(one.normal @ other.normal) > _OPPOSED:
            continue
        a, b = skin.vertices[one.rim], skin.vertices[other.rim]
        gap = 0.5 * float(cKDTree(a).query(b)[0].mean() + cKDTree(b).query(a)[0].mean())
        span = max(one.span, other.span)
        if gap < _GAP * span and min(one.span, other.span) > (1.0 - _ALIKE) * span:
            x, y, z = (0.5 * (a.mean(axis=0) + b.mean(axis=0))).tolist()
            return one, other, Halves(gap=gap, span=span, middle=(x, y, z), joined=False)
    return None
