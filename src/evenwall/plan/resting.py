"""How to prop the mold while the brushed resin gels: the pose in which it stays where the brush put it.

Poses stand on a grid of angles that can be set by hand. Each is judged first by the thinning it begins with:
what every brushed place loses at once down the wall, as the film's own equations have it. The few best ones
are then computed until the resin gels, and the one that keeps most on the brushed places is taken.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenwall.errors import heed
from evenwall.film.coat import Stop, never
from evenwall.film.operators import build_wall
from evenwall.film.pouring import Setting, brushed_pour, run_pour
from evenwall.film.rubber import new_column
from evenwall.film.state import Brushed, Floats
from evenwall.geometry.remesh import evened
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import rotation

STEP: Final = np.deg2rad(15.0)  # between poses that are tried [rad]
RUNS: Final = 3  # poses whose film is computed
APART: Final = np.cos(np.deg2rad(40.0))  # those differ in what is up by at least so much []
STAYS: Final = 0.7  # under this share on its places the brushed resin is said to run together []
NODES: Final = 2500  # of the computed film


@dataclass(frozen=True, kw_only=True)
class RestingPose:
    """A pose of the mold at rest."""

    frame_angle: float  # [rad]
    cradle_angle: float  # [rad]
    up: tuple[float, float, float]  # the direction that looks up, mold axes []
    kept: float  # share of the brushed resin that gels on the brushed places []


def resting_pose(setting: Setting, layer: Brushed, *, nodes: int, stop: Stop = never) -> RestingPose:
    """The pose in which most of the brushed `layer` gels where it was brushed; on about `nodes`, at most NODES."""
    angles = _angles()
    down = np.array([_down(frame, cradle) for frame, cradle in angles])
    order = np.argsort(_thinning(layer, down))
    wall = evened(layer.marked, nodes=min(nodes, NODES), stop=stop)
    best: RestingPose | None = None
    for k in _spread(order, down):
        frame, cradle = angles[k]
        x, y, z = (float(-value) for value in down[k])
        posed = replace(layer, frame_angle=frame, cradle_angle=cradle)
        kept = _kept(wall, setting, posed, stop)
        heed(stop)
        if best is None or kept > best.kept:
            best = RestingPose(frame_angle=frame, cradle_angle=cradle, up=(x, y, z), kept=kept)
    assert best is not None  # there is always a first pose
    return best


def leaving(pose: RestingPose | None) -> tuple[str, ...]:
    """A sentence where much of the brushed resin leaves its places even in the best pose."""
    if pose is None or pose.kept >= STAYS:
        return ()
    return (
        f"{1.0 - pose.kept:.0%} of the brushed resin runs together before it gels, even in the best pose: brush it on "
        "when it begins to thicken, or brush twice",
    )


def _angles() -> list[tuple[float, float]]:
    """Frame angle from 0 to half a turn, cradle angle all round: every direction can look up."""
    frames = np.arange(0.0, np.pi + 0.5 * STEP, STEP)
    cradles = np.arange(-np.pi + STEP, np.pi + 0.5 * STEP, STEP)
    found = [(float(frame), float(cradle)) for frame in frames for cradle in cradles]
    return [one for one in found if 1e-9 < one[0] < np.pi - 1e-9 or abs(one[1]) < 1e-9]


def _down(frame: float, cradle: float) -> Floats:
    """Direction of gravity in mold axes (3,)."""
    return np.asarray(-rotation(frame_angle=frame, cradle_angle=cradle)[2])


def _thinning(layer: Brushed, down: Floats) -> Floats:
    """How fast the brushed places thin at first, in sum, for each direction of gravity (k, 3); any unit, (k,).

    An even film moves along an edge of the wall with the weight of the edge times its fall; an unbrushed node
    gives nothing.
    """
    wall = build_wall(layer.marked, curved=False)
    brushed = layer.marks > 0.5
    near = brushed[wall.tail] | brushed[wall.head]
    tail, head, weight = wall.tail[near], wall.head[near], wall.weight[near]
    step = wall.x[head] - wall.x[tail]
    nodes, lost = len(wall.area), []
    for direction in down:
        flow = weight * (step @ direction)  # from tail to head where above 0
        giver = np.where(flow > 0.0, tail, head)
        flow = np.where(brushed[giver], flow, 0.0)
        leaves = np.bincount(tail, flow, nodes) - np.bincount(head, flow, nodes)
        lost.append(float(np.maximum(leaves, 0.0)[brushed].sum()))
    return np.array(lost)


def _spread(order: NDArray[np.int64], down: Floats) -> list[int]:
    """The first RUNS poses of `order` that differ clearly from each other."""
    taken: list[int] = []
    for k in map(int, order):
        if all(float(down[k] @ down[other]) < APART for other in taken):
            taken.append(k)
        if len(taken) == RUNS:
            break
    return taken


def _kept(wall: Surface, setting: Setting, layer: Brushed, stop: Stop) -> float:
    """Share of the layer that gels where it was brushed, and no thicker than it was brushed there."""
    column = new_column(setting.rubber, len(wall.vertices), temperature=setting.mold_temperature)
    pour, _ = brushed_pour(wall, setting, layer, column)
    run = run_pour(pour, setting, stop=stop)
    after = run.film.volume + run.film.solid
    laid = float(pour.wall.area @ pour.volume)
    return float(pour.wall.area @ np.minimum(after, pour.volume)) / laid if laid > 0.0 else 0.0
