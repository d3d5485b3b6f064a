"""Gravity torque about both axes at every attitude, and its worst.

With U_c the moment of what the cradle carries and U_f that of what the frame carries [kg m], phi the frame
angle and theta the cradle angle: U = U_f + R_z(theta) U_c,
    torque about the frame axis   T_f = -g (U_y cos phi - U_z sin phi)
    torque about the cradle axis  T_c = -g sin phi (U_cx cos theta - U_cy sin theta)
Both are minus the derivative of the potential energy g (U_y sin phi + U_z cos phi) (elementary statics).
Their worst over all attitudes have closed forms; nothing is balanced "on average".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evenwall.turning.coverage import sphere_grid
from evenwall.turning.kinematics import GRAVITY, FloatArray


@dataclass(frozen=True, kw_only=True)
class Worst:
    """Worst gravity torques over all attitudes, and where."""

    frame: float  # about the frame axis [N m]
    frame_at: tuple[float, float]  # frame and cradle angle of it [rad]
    cradle: float  # about the cradle axis [N m]
    cradle_at: tuple[float, float]  # frame and cradle angle of it [rad]


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Torque against attitude, for a plot."""

    angle: FloatArray  # one turn [rad], shape (n,)
    frame: FloatArray  # about the frame axis at the worst cradle angle, against the frame angle [N m], (n,)
    cradle: FloatArray  # about the cradle axis with it level, against the cradle angle [N m], (n,)


def combined(frame: FloatArray, cradle: FloatArray, cradle_angle: ArrayLike) -> FloatArray:
    """Moment U [kg m], shape (..., 3), of all that turns, in frame axes, at cradle angles (...) [rad]."""
    theta = np.asarray(cradle_angle, dtype=np.float64)
    c, s = np.cos(theta), np.sin(theta)
    x = frame[0] + c * cradle[0] - s * cradle[1]
    y = frame[1] + s * cradle[0] + c * cradle[1]
    return np.stack(np.broadcast_arrays(x, y, frame[2] + cradle[2]), axis=-1)


def frame_torque(
    frame: FloatArray, cradle: FloatArray, *, frame_angle: ArrayLike, cradle_angle: ArrayLike
) -> FloatArray:
    """Gravity torque about the frame axis [N m]; moments (3,) [kg m], angles broadcast [rad]."""
    u = combined(frame, cradle, cradle_angle)
    phi = np.asarray(frame_angle, dtype=np.float64)
    return np.asarray(-GRAVITY * (u[..., 1] * np.cos(phi) - u[..., 2] * np.sin(phi)))


def cradle_torque(cradle: FloatArray, *, frame_angle: ArrayLike, cradle_angle: ArrayLike) -> FloatArray:
    """Gravity torque about the cradle axis [N m]; moment (3,) [kg m], angles broadcast [rad]."""
    theta = np.asarray(cradle_angle, dtype=np.float64)
    lever = cradle[0] * np.cos(theta) - cradle[1] * np.sin(theta)
    return np.asarray(-GRAVITY * np.sin(np.asarray(frame_angle, dtype=np.float64)) * lever)


def potential_energy(
    frame: FloatArray, cradle: FloatArray, *, frame_angle: ArrayLike, cradle_angle: ArrayLike
) -> FloatArray:
    """Potential energy [J] of all that turns, zero where the crossing is; arguments as in `frame_torque`."""
    u = combined(frame, cradle, cradle_angle)
    phi = np.asarray(frame_angle, dtype=np.float64)
    return np.asarray(GRAVITY * (u[..., 1] * np.sin(phi) + u[..., 2] * np.cos(phi)))


def worst(frame: FloatArray, cradle: FloatArray) -> Worst:
    """The worst torques over all attitudes of moments (3,) [kg m], exactly.

    About the cradle axis g |(U_cx, U_cy)|, axis level. About the frame axis g times the norm of
    (|U_fy| + |(U_cx, U_cy)|, U_fz + U_cz).
    """
    across = float(np.hypot(cradle[0], cradle[1]))
    side = 1.0 if frame[1] >= 0.0 else -1.0
    theta = float(np.arctan2(side * cradle[0], side * cradle[1]))
    reach, height = float(abs(frame[1])) + across, float(frame[2] + cradle[2])
    phi = float(np.arctan2(-height, side * reach))
    return Worst(
        frame=GRAVITY * float(np.hypot(reach, height)),
        frame_at=(phi, theta),
        cradle=GRAVITY * across,
        cradle_at=(0.5 * np.pi, float(np.arctan2(-cradle[1], cradle[0]))),
    )


def curves(frame: FloatArray, cradle: FloatArray, *, points: int = 181) -> Curves:
    """Torque against attitude over one turn, of moments (3,) [kg m]."""
    angle = np.linspace(0.0, 2.0 * np.pi, points)
    at = worst(frame, cradle)
    return Curves(
        angle=angle,
        frame=frame_torque(frame, cradle, frame_angle=angle, cradle_angle=at.frame_at[1]),
        cradle=cradle_torque(cradle, frame_angle=0.5 * np.pi, cradle_angle=angle),
    )


def liquid_torque(wall: FloatArray, *, mass: float) -> tuple[float, float]:
    """Torque [N m] of the moving liquid about an axis: usual, and at most.

    wall: points (n, 3) of the cavity wall from the crossing [m]; mass of the liquid [kg]. Usual: the liquid
    lies at the lowest point of the wall, the worst over 600 attitudes of its distance from the plumb line
    through the crossing. At most: all of it at the farthest point, level with the axis, as when thick
    resin is carried up.
    """
    points = np.asarray(wall, dtype=np.float64)
    down = sphere_grid(600)
    lowest = points[np.argmax(points @ down.T, axis=0)]
    aside = lowest - (lowest * down).sum(axis=1, keepdims=True) * down
    weight = mass * GRAVITY
    return (
        weight * float(np.linalg.norm(aside, axis=1).max()),
        weight * float(np.linalg.norm(points, axis=1).max()),
    )
