"""How hard the hands push through a turn: gravity, friction and getting the mass moving."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.machine.counterweights import Rims
from evenwall.machine.torque import cradle_torque, frame_torque
from evenwall.turning.kinematics import FloatArray, Motion, angles

CRANK_SPEED: Final[float] = (
    2.0 * np.pi * 25.0 / 60.0
)  # of a crank at a person's limit [rad/s], engineering table


@dataclass(frozen=True, kw_only=True)
class Effort:
    """Force of the hands along a motion."""

    time: FloatArray  # [s], shape (n,)
    frame: FloatArray  # at the frame's rim, along the motion [N], (n,)
    cradle: FloatArray  # at the cradle's rim [N], (n,)
    most_frame: float  # [N]
    most_cradle: float  # [N]


def effort(
    motion: Motion,
    *,
    frame_moment: FloatArray,
    cradle_moment: FloatArray,
    frame_inertia: float,
    cradle_inertia: float,
    friction: tuple[float, float],
    rims: Rims,
    start: float,
    stop: float,
    points: int = 600,
) -> Effort:
    """Force at both rims from `start` to `stop` [s]: what the hand adds to gravity, friction and inertia.

    Moments (3,) [kg m]; inertia about the frame axis and the cradle axis [kg m2]; friction torque of frame and
    cradle [N m]. The small torques by which one turning axis acts on the other are left out.
    """
    time = np.linspace(start, stop, points)
    a = np.array([angles(motion, float(t)) for t in time])
    gravity_frame = frame_torque(frame_moment, cradle_moment, frame_angle=a[:, 0], cradle_angle=a[:, 3])
    gravity_cradle = cradle_torque(cradle_moment, frame_angle=a[:, 0], cradle_angle=a[:, 3])
    frame = (frame_inertia * a[:, 2] + friction[0] * np.sign(a[:, 1]) - gravity_frame) / rims.frame
    cradle = (cradle_inertia * a[:, 5] + friction[1] * np.sign(a[:, 4]) - gravity_cradle) / rims.cradle
    return Effort(
        time=time,
        frame=frame,
        cradle=cradle,
        most_frame=float(np.abs(frame).max()),
        most_cradle=float(np.abs(cradle).max()),
    )


def crank_power(*, force: float, radius: float, rate: float) -> float:
    """Power [W] of a crank: F r w, force [N], radius [m], rate [rad/s]. Example: 130 N at 0.4 m, 25 rpm: 136 W."""
    return force * radius * rate
