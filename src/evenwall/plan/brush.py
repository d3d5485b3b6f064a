"""The brush coat: narrow hollows of the mold wall where air stays, brushed with resin before the first shot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.film.operators import node_areas
from evenwall.geometry.curvature import curvatures
from evenwall.geometry.surface import Surface

NARROW: Final = 3.0e-3  # a hollow with a smaller radius keeps air (common practice, no source) [m]
LAYER: Final = 0.4e-3  # a brushed layer [m] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Brush:
    """What to brush."""

    area: float  # of the narrow places [m2]
    volume: float  # resin that stays on them [m3]
    nodes: tuple[int, ...]  # of the wall that was looked at


def brush_coat(wall: Surface) -> Brush:
    """The narrow hollows of a closed wall whose nodes stand a few millimetres apart or closer.

    A node counts where the larger principal curvature, averaged over 2 mm, is that of a hollow of less than
    NARROW radius; k1 = H + sqrt(H^2 - K).
    """
    curved = curvatures(wall, scale=2.0e-3)
    sharpest = curved.mean + np.sqrt(np.maximum(curved.mean**2 - curved.gauss, 0.0))
    narrow = np.flatnonzero(sharpest > 1.0 / NARROW)
    area = float(node_areas(wall)[narrow].sum())
    return Brush(area=area, volume=area * LAYER, nodes=tuple(int(i) for i in narrow))
