"""What everything that turns sweeps through, and how near it comes to frame, stand, table and hands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenwall.machine.parts import Machine, Part, corners

HAND_GAP: Final[float] = 0.100  # that does not crush a hand [m], EN 349 (ISO 13854), as quoted by AUVA
RATIO_TURNS: Final[int] = 50  # turns of the frame that are searched at a fixed ratio
RATIO_STEP: Final[float] = np.deg2rad(0.5)  # of that search [rad]


@dataclass(frozen=True, kw_only=True)
class Gap:
    """The nearest that one part comes to one obstacle; negative where they meet."""

    part: str
    obstacle: str
    gap: float  # [m]
    frame_angle: float  # at which it is nearest [rad]
    cradle_angle: float  # at which it is nearest [rad]


@dataclass(frozen=True, kw_only=True)
class Clearance:
    """All gaps."""

    smallest: Gap
    gaps: tuple[Gap, ...]  # nearest of each obstacle, the smallest first


def clearance(machine: Machine, parts: Sequence[Part]) -> Clearance:
    """The smallest gaps of all turning parts, at every attitude, or at those of a fixed ratio."""
    cradle = [part for part in parts if part.carrier == "cradle"]
    frame = [part for part in parts if part.carrier == "frame"]
    side = _nearest(_to_side_bars(machine, part) for part in cradle)
    cross = _nearest(_to_cross_bars(machine, part) for part in cradle)
    found = [
        side,
        cross,
        _nearest(_to_table(machine, part) for part in parts),
        _nearest(_to_stand(machine, part) for part in frame),
        _to_hands(_nearest((cross, side))),
    ]
    gaps = tuple(sorted(found, key=lambda gap: gap.gap))
    fixed = [gap for gap in gaps if gap.obstacle != "hands at the frame"]
    return Clearance(smallest=fixed[0], gaps=gaps)


def _nearest(gaps: Iterable[Gap]) -> Gap:
    return min(gaps, key=lambda gap: gap.gap)


def _to_side_bars(machine: Machine, part: Part) -> Gap:
    """A corner at radius r about the cradle axis comes to half the opening less r."""
    points = corners(part)
    radius = np.hypot(points[:, 0], points[:, 1])
    worst = points[int(np.argmax(radius))]
    angle = -float(np.arctan2(worst[1], worst[0]))
    return _gap(
        part, "the frame's side bars", 0.5 * machine.frame_opening[0] - float(radius.max()), 0.0, angle
    )


def _to_cross_bars(machine: Machine, part: Part) -> Gap:
    height = float(np.abs(corners(part)[:, 2]).max())
    return _gap(part, "the frame's cross bars", 0.5 * machine.frame_opening[1] - height, 0.0, 0.0)


def _to_stand(machine: Machine, part: Part) -> Gap:
    stand = 0.5 * machine.frame_opening[0] + machine.bar[0] + machine.stand_gap
    return _gap(part, "the stand", stand - float(np.abs(corners(part)[:, 0]).max()), 0.0, 0.0)


def _to_table(machine: Machine, part: Part) -> Gap:
    """The lowest that a part's corners come, over all attitudes or those of the ratio."""
    points = corners(part)
    if part.carrier == "cradle" and machine.ratio is not None:
        phi = np.arange(0.0, 2.0 * np.pi * RATIO_TURNS, RATIO_STEP)
        theta = machine.ratio * phi
        side = np.outer(np.sin(theta), points[:, 0]) + np.outer(np.cos(theta), points[:, 1])
        height = np.sin(phi)[:, None] * side + np.cos(phi)[:, None] * points[:, 2]
        at = int(np.argmin(height.min(axis=1)))
        low = float(height.min())
        return _gap(part, "table or floor", machine.axle_height + low, float(phi[at]), float(theta[at]))
    turns = part.carrier == "cradle"
    out = np.hypot(points[:, 0], points[:, 1]) if turns else np.abs(points[:, 1])
    worst = int(np.argmax(np.hypot(out, points[:, 2])))
    x, y, z = points[worst]
    theta_worst = 0.5 * np.pi - float(np.arctan2(y, x)) if turns else 0.0
    phi_worst = float(np.arctan2(-(out[worst] if turns else y), -z))
    reach = float(np.hypot(out[worst], z))
    return _gap(part, "table or floor", machine.axle_height - reach, phi_worst, theta_worst)


def _to_hands(bar: Gap) -> Gap:
    """A hand round a bar of the frame stands as far from the swept cradle as the bar's inner face does."""
    return replace(bar, obstacle="hands at the frame")


def _gap(part: Part, obstacle: str, gap: float, frame_angle: float, cradle_angle: float) -> Gap:
    turn = 2.0 * np.pi
    return Gap(
        part=part.name,
        obstacle=obstacle,
        gap=gap,
        frame_angle=float(np.mod(frame_angle, turn)),
        cradle_angle=float(np.mod(cradle_angle, turn)),
    )
