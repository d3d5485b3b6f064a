"""Where gravity stands in the mold while the frame and the cradle turn.

Room axes: X is the frame axis (level), Z is up. Mold axes turn with the mold:
`R(t) = R_x(phi) R_z(theta)` takes mold axes to room axes, with phi the frame angle and theta the
cradle angle. At phi = theta = 0 both sets of axes coincide and the cradle axis (the mold's z axis)
stands upright; at phi = 90 degrees it is level. Angles and rates are free functions of time, kept as
cubic Hermite knots; before the first and after the last knot both axes go on at that knot's rate.

The functions marked `njit` allocate nothing and can be called from other compiled functions.
Source: elementary rigid-body kinematics, e.g. Goldstein, Classical Mechanics, chapter 4.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import constants

GRAVITY: Final[float] = constants.g  # standard acceleration of free fall [m/s2]

FloatArray = NDArray[np.float64]
Vector = tuple[float, float, float]


class Motion(NamedTuple):
    """Two-axis turning as cubic Hermite knots; every array has shape (k,), k >= 1, times ascending."""

    time: FloatArray  # [s], strictly ascending
    frame_angle: FloatArray  # phi [rad]
    frame_rate: FloatArray  # dphi/dt [rad/s]
    cradle_angle: FloatArray  # theta [rad], relative to the frame
    cradle_rate: FloatArray  # dtheta/dt [rad/s], relative to the frame


@njit(cache=True)
def _interval(time: FloatArray, t: float) -> int:
    """Index of the last knot at or before t, or -1 before the first (binary search)."""
    low = -1
    high = time.size
    while high - low > 1:
        middle = (low + high) // 2
        if time[middle] <= t:
            low = middle
        else:
            high = middle
    return low


@njit(cache=True)
def _hermite(t: float, t0: float, t1: float, a0: float, a1: float, r0: float, r1: float) -> Vector:
    """Angle [rad], rate [rad/s] and acceleration [rad/s2] at t of the cubic through two knots."""
    step = t1 - t0
    s = (t - t0) / step
    rise = (a1 - a0) / step
    b = 3.0 * rise - 2.0 * r0 - r1
    c = r0 + r1 - 2.0 * rise
    angle = a0 + step * s * (r0 + s * (b + s * c))
    rate = r0 + s * (2.0 * b + 3.0 * s * c)
    return angle, rate, (2.0 * b + 6.0 * s * c) / step


@njit(cache=True)
def _axis(time: FloatArray, angle: FloatArray, rate: FloatArray, t: float, i: int) -> Vector:
    """Angle, rate and acceleration of one axis at t, which lies in the interval after knot i."""
    last = time.size - 1
    if i < 0:
        return angle[0] + rate[0] * (t - time[0]), rate[0], 0.0
    if i >= last:
        return angle[last] + rate[last] * (t - time[last]), rate[last], 0.0
    return _hermite(t, time[i], time[i + 1], angle[i], angle[i + 1], rate[i], rate[i + 1])


@njit(cache=True)
def angles(motion: Motion, t: float) -> tuple[float, float, float, float, float, float]:
    """Frame angle [rad], rate [rad/s], acceleration [rad/s2], then the same of the cradle, at t [s]."""
    i = _interval(motion.time, t)
    phi, phi_rate, phi_acceleration = _axis(motion.time, motion.frame_angle, motion.frame_rate, t, i)
    theta, theta_rate, theta_acceleration = _axis(motion.time, motion.cradle_angle, motion.cradle_rate, t, i)
    return phi, phi_rate, phi_acceleration, theta, theta_rate, theta_acceleration


@njit(cache=True)
def gravity(motion: Motion, t: float) -> Vector:
    """Gravity R^T (0, 0, -g) in mold axes [m/s2] at t [s].

    Example: at rest with both angles 0 it is (0, 0, -9.80665).
    """
    phi, _, _, theta, _, _ = angles(motion, t)
    across = -GRAVITY * np.sin(phi)
    return across * np.sin(theta), across * np.cos(theta), -GRAVITY * np.cos(phi)


@njit(cache=True)
def angular_velocity(motion: Motion, t: float) -> Vector:
    """Angular velocity w of the mold in mold axes [rad/s] at t [s]."""
    _, frame, _, theta, cradle, _ = angles(motion, t)
    return frame * np.cos(theta), -frame * np.sin(theta), cradle


@njit(cache=True)
def angular_acceleration(motion: Motion, t: float) -> Vector:
    """Angular acceleration dw/dt of the mold in mold axes [rad/s2] at t [s].

    It is not zero at constant rates of both axes: the frame turns the cradle axis about.
    """
    _, frame, frame_up, theta, cradle, cradle_up = angles(motion, t)
    c, s = np.cos(theta), np.sin(theta)
    return frame_up * c - frame * cradle * s, -frame_up * s - frame * cradle * c, cradle_up


def attitude(motion: Motion, t: float) -> FloatArray:
    """Rotation R(t), shape (3, 3), that takes mold axes to room axes, at t [s]."""
    phi, _, _, theta, _, _ = angles(motion, t)
    return rotation(frame_angle=phi, cradle_angle=theta)


def rotation(*, frame_angle: float, cradle_angle: float) -> FloatArray:
    """Rotation R_x(frame_angle) R_z(cradle_angle), shape (3, 3), from mold to room axes; angles [rad]."""
    cf, sf = np.cos(frame_angle), np.sin(frame_angle)
    cc, sc = np.cos(cradle_angle), np.sin(cradle_angle)
    return np.array([[cc, -sc, 0.0], [cf * sc, cf * cc, -sf], [sf * sc, sf * cc, cf]])
