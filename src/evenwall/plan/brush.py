"""The brush coat: narrow hollows of the mold wall where air stays, brushed with resin before the first shot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from evenwall.errors import heed
from evenwall.film.state import Floats
from evenwall.geometry.pockets import node_areas, pockets
from evenwall.geometry.remesh import LEAST_NODES, Stop, evened
from evenwall.geometry.solid import area
from evenwall.geometry.surface import Surface
from evenwall.plan.weighout import BRUSH_COAT

EDGE: Final = 2.0e-3  # edges that resolve the narrow places [m]
MOST_NODES: Final = 12_000


@dataclass(frozen=True, kw_only=True)
class Brush:
    """What to brush."""

    area: float  # of the narrow places [m2]
    volume: float  # resin that stays on them [m3]
    nodes: tuple[int, ...]  # of the wall that was given
    looked_at: Surface  # the wall on a mesh that resolves its narrow places
    marks: Floats  # 1 on its narrow places, 0 elsewhere, (k,) []


def brush_coat(wall: Surface, *, stop: Stop | None = None) -> Brush:
    """The narrow hollows of a closed wall, best given as fine as the piece is known.

    The wall is looked at with edges of EDGE, or what MOST_NODES allow; its own nodes are those that lie
    nearest to a narrow place. Raises StoppedError once stop() is true.
    """
    wanted = round(area(wall) / (0.5 * np.sqrt(3.0) * EDGE**2))
    looked_at = evened(wall, nodes=int(np.clip(wanted, LEAST_NODES, MOST_NODES)), stop=stop)
    found = pockets(looked_at)
    heed(stop)
    narrow_area = float(node_areas(looked_at)[found.narrow].sum())
    _, nearest = cKDTree(looked_at.vertices).query(wall.vertices)
    return Brush(
        area=narrow_area,
        volume=narrow_area * BRUSH_COAT,
        nodes=tuple(np.flatnonzero(found.narrow[nearest]).tolist()),
        looked_at=looked_at,
        marks=found.narrow.astype(np.float64),
    )
