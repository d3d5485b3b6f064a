"""Balance measured exactly: the weight that just starts the heavy side up, and the one that lets it just sink.

At an attitude let T+ be the torque of the weight at an arm that just starts the heavy side up, and T- of the
one at which it just starts down (negative where it had to hang on the heavy side). Friction f holds against
both, so m g e = (T+ + T-)/2 and f = (T+ - T-)/2 (elementary statics). Two attitudes a quarter turn apart give
both components. Do the cradle first, its axis level; then the frame at cradle angles 0 and 180 degrees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.turning.kinematics import GRAVITY

MASS_ERROR: Final[float] = 0.005  # standard error of the weight at which it starts [kg], typical
ARM_ERROR: Final[float] = 0.002  # standard error of an arm [m], typical


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One weight at one arm, at which the body just starts to turn."""

    mass: float  # [kg]
    arm: float  # level distance of the weight from the axis [m]; negative on the heavy side


@dataclass(frozen=True, kw_only=True)
class Component:
    """One component of the imbalance, at one attitude."""

    torque: float  # m g e [N m], positive where the side that was marked is the heavy one
    friction: float  # [N m]
    error: float  # standard error of the torque [N m]; of the friction it is the same


@dataclass(frozen=True, kw_only=True)
class Imbalance:
    """Where the mass lies off an axis."""

    moment: tuple[float, float]  # m e at the first and the second attitude [kg m]
    error: tuple[float, float]  # standard error of each [kg m]
    size: float  # [kg m]
    direction: float  # from the first attitude's side towards the second's [rad]
    size_error: float  # standard error [kg m]
    direction_error: float  # standard error [rad]; pi where nothing is known
    friction: float  # [N m]


@dataclass(frozen=True, kw_only=True)
class FrameImbalance:
    """What the frame carries and what the cradle adds, told apart by two cradle angles."""

    frame_across: float  # of the frame across its plane [kg m]
    cradle_across: float  # of the cradle across the frame's plane, left over from its own balance [kg m]
    along: float  # of everything along the cradle axis [kg m]; only here does it show
    error: tuple[float, float, float]  # standard error of each [kg m]


def component(
    up: Sequence[Reading],
    down: Sequence[Reading],
    *,
    mass_error: float = MASS_ERROR,
    arm_error: float = ARM_ERROR,
) -> Component:
    """Torque and friction at one attitude from readings up and down, each repeated as often as wanted.

    The error is the larger of that of weights and arms and that of the scatter between repeats.
    Raises InputError where either list is empty.
    """
    if not up or not down:
        raise InputError(
            f"balance by two weights has {len(up)} readings up and {len(down)} down: give at least 1 of each"
        )
    plus, plus_error = _mean(up, mass_error, arm_error)
    minus, minus_error = _mean(down, mass_error, arm_error)
    if minus > plus:
        raise InputError(
            f"balance by two weights: {plus:.2f} N m lifts the heavy side but {minus:.2f} N m lets it sink: "
            "the first must be the larger one; swap them"
        )
    return Component(
        torque=0.5 * (plus + minus),
        friction=0.5 * (plus - minus),
        error=0.5 * float(np.hypot(plus_error, minus_error)),
    )


def imbalance(first: Component, second: Component) -> Imbalance:
    """The imbalance from two attitudes a quarter turn apart."""
    a, b = first.torque / GRAVITY, second.torque / GRAVITY
    sa, sb = first.error / GRAVITY, second.error / GRAVITY
    size = float(np.hypot(a, b))
    if size > 0.0:
        size_error = float(np.hypot(a * sa, b * sb)) / size
        direction_error = min(float(np.hypot(b * sa, a * sb)) / size**2, float(np.pi))
    else:
        size_error, direction_error = max(sa, sb), float(np.pi)
    return Imbalance(
        moment=(a, b),
        error=(sa, sb),
        size=size,
        direction=float(np.arctan2(b, a)),
        size_error=size_error,
        direction_error=direction_error,
        friction=0.5 * (first.friction + second.friction),
    )


def frame_imbalance(at_0: Imbalance, at_180: Imbalance) -> FrameImbalance:
    """The frame's imbalance from readings at cradle angles 0 and 180 degrees.

    First attitude: cradle axis upright; second: level. Half the sum across is the frame's, half the
    difference the cradle's; along the cradle axis both readings tell the same and are averaged.
    """
    across = 0.5 * float(np.hypot(at_0.error[0], at_180.error[0]))
    return FrameImbalance(
        frame_across=0.5 * (at_0.moment[0] + at_180.moment[0]),
        cradle_across=0.5 * (at_0.moment[0] - at_180.moment[0]),
        along=0.5 * (at_0.moment[1] + at_180.moment[1]),
        error=(across, across, 0.5 * float(np.hypot(at_0.error[1], at_180.error[1]))),
    )


def rest_error(*, friction: float, torque: float) -> float:
    """How far [rad] the heavy side may come to rest from the lowest point: asin(friction/(m g e)).

    Friction and torque [N m]; half a turn where friction holds it anywhere.
    """
    return float(np.arcsin(friction / torque)) if friction < torque else float(np.pi)


def _mean(readings: Sequence[Reading], mass_error: float, arm_error: float) -> tuple[float, float]:
    """Mean torque [N m] and its standard error of repeated readings."""
    torques = np.array([r.mass * GRAVITY * r.arm for r in readings])
    each = [GRAVITY * np.hypot(mass_error * r.arm, arm_error * r.mass) for r in readings]
    stated = float(np.sqrt(np.mean(np.square(each)) / len(readings)))
    scatter = float(torques.std(ddof=1) / np.sqrt(len(readings))) if len(readings) > 1 else 0.0
    return float(torques.mean()), max(stated, scatter)
