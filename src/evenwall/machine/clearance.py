"""What everything that turns sweeps through, and how near it comes to frame, stand, table and hands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.machine.parts import Machine, Part, corners
from evenwall.turning.kinematics import FloatArray

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
    """All gaps, and the outlines that are swept."""

    smallest: Gap
    gaps: tuple[Gap, ...]  # nearest of each obstacle, the smallest first
    cradle_outline: FloatArray  # distance from the crossing along the cradle axis, swept radius [m], (n, 2)
    frame_outline: FloatArray  # distance along the frame axis, swept radius about it [m], (n, 2)


def clearance(machine: Machine, parts: Sequence[Part]) -> Clearance:
    """The smallest gaps of all turning parts, at every attitude, or at those of a fixed ratio."""
    cradle = [part for part in parts if part.carrier == "cradle"]
    frame = [part for part in parts if part.carrier == "frame"]
    found = [
        _nearest(_to_side_bars(machine, part) for part in cradle),
        _nearest(_to_cross_bars(machine, part) for part in cradle),
        _nearest(_to_table(machine, part) for part in parts),
        _nearest(_to_stand(machine, part) for part in frame),
        _to_hands(machine, cradle),
    ]
    gaps = tuple(sorted(found, key=lambda gap: gap.gap))
    fixed = [gap for gap in gaps if gap.obstacle != "hands at the frame"]
    return Clearance(
        smallest=fixed[0],
        gaps=gaps,
        cradle_outline=_outline(cradle, axis=2),
        frame_outline=_frame_outline(cradle, frame),
    )


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


def _to_hands(machine: Machine, cradle: Sequence[Part]) -> Gap:
    """A hand round a cross bar stands as far from the swept cradle as the bar's inner face does."""
    near = _nearest([_to_cross_bars(machine, part) for part in cradle])
    side = _nearest([_to_side_bars(machine, part) for part in cradle])
    least = min(near, side, key=lambda gap: gap.gap)
    return Gap(
        part=least.part,
        obstacle="hands at the frame",
        gap=least.gap,
        frame_angle=0.0,
        cradle_angle=least.cradle_angle,
    )


def _gap(part: Part, obstacle: str, gap: float, frame_angle: float, cradle_angle: float) -> Gap:
    turn = 2.0 * np.pi
    return Gap(
        part=part.name,
        obstacle=obstacle,
        gap=gap,
        frame_angle=float(np.mod(frame_angle, turn)),
        cradle_angle=float(np.mod(cradle_angle, turn)),
    )


def _outline(parts: Sequence[Part], *, axis: int) -> FloatArray:
    """Largest radius about the axis that any part's box sweeps, along that axis: rows (position, radius)."""
    others = [i for i in range(3) if i != axis]
    boxes = [corners(part) for part in parts]
    ends = [(b[:, axis].min(), b[:, axis].max(), np.linalg.norm(b[:, others], axis=1).max()) for b in boxes]
    stations = np.linspace(min(e[0] for e in ends), max(e[1] for e in ends), 101)
    radius = np.zeros(stations.size)
    for low, high, reach in ends:
        inside = (stations >= low) & (stations <= high)
        radius[inside] = np.maximum(radius[inside], reach)
    return np.column_stack((stations, radius))


def _frame_outline(cradle: Sequence[Part], frame: Sequence[Part]) -> FloatArray:
    """Largest radius about the frame axis that frame and cradle sweep, along it, the cradle at any angle."""
    outline = _outline(frame, axis=0)
    swept = _outline(cradle, axis=2)
    for height, radius in swept:
        covered = np.abs(outline[:, 0]) <= radius
        aside = np.sqrt(np.maximum(radius**2 - outline[covered, 0] ** 2, 0.0))
        outline[covered, 1] = np.maximum(outline[covered, 1], np.hypot(aside, height))
    return outline
