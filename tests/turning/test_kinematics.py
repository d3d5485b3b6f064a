"""The motion between and beyond its knots."""

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

from evenwall.turning import kinematics, patterns
from evenwall.turning.kinematics import GRAVITY, Motion


def wandering(knots: int = 9) -> Motion:
    chance = np.random.default_rng(5)
    time = np.cumsum(chance.uniform(0.2, 2.0, knots))
    return Motion(time, *(chance.normal(size=knots) for _ in range(4)))


def test_between_knots_the_motion_is_the_cubic_hermite_spline() -> None:
    motion = wandering()
    frame = CubicHermiteSpline(motion.time, motion.frame_angle, motion.frame_rate)
    cradle = CubicHermiteSpline(motion.time, motion.cradle_angle, motion.cradle_rate)
    for t in np.random.default_rng(1).uniform(motion.time[0], motion.time[-1], 50):
        got = kinematics.angles(motion, t)
        expected = [curve(t, order) for curve in (frame, cradle) for order in (0, 1, 2)]
        np.testing.assert_allclose(got, expected, rtol=1e-9, atol=1e-11)


@pytest.mark.parametrize("knots", [1, 2, 9])
def test_before_the_first_and_after_the_last_knot_it_goes_on_at_that_rate(knots: int) -> None:
    motion = wandering(knots)
    for end, beyond in ((0, motion.time[0] - 7.0), (-1, motion.time[-1] + 7.0)):
        phi, phi_rate, phi_up, theta, theta_rate, theta_up = kinematics.angles(motion, beyond)
        ahead = beyond - motion.time[end]
        assert phi == pytest.approx(motion.frame_angle[end] + ahead * motion.frame_rate[end])
        assert theta == pytest.approx(motion.cradle_angle[end] + ahead * motion.cradle_rate[end])
        assert (phi_rate, phi_up) == (motion.frame_rate[end], 0.0)
        assert (theta_rate, theta_up) == (motion.cradle_rate[end], 0.0)


def test_at_rest_upright_gravity_points_down_the_cradle_axis() -> None:
    still = patterns.still()
    assert kinematics.gravity(still, 3.0) == pytest.approx((0.0, 0.0, -GRAVITY))
    assert kinematics.angular_velocity(still, 3.0) == (0.0, 0.0, 0.0)


def test_with_the_cradle_axis_level_the_frame_axis_sees_no_gravity_at_any_cradle_angle() -> None:
    for theta in np.linspace(0.0, 6.0, 7):
        level = patterns.still(frame_angle=np.pi / 2.0, cradle_angle=theta)
        g = np.array(kinematics.gravity(level, 0.0))
        assert g[2] == pytest.approx(0.0, abs=1e-12)
        assert kinematics.attitude(level, 0.0)[0] @ g == pytest.approx(0.0, abs=1e-12)


def test_constant_rates_of_both_axes_still_leave_an_angular_acceleration() -> None:
    motion = patterns.constant(frame_rate=0.6, cradle_rate=0.5)
    size = np.linalg.norm(kinematics.angular_acceleration(motion, 12.3))
    assert size == pytest.approx(0.6 * 0.5)


def test_gravity_keeps_its_size_and_angular_velocity_its_axes() -> None:
    motion = wandering()
    for t in np.linspace(-1.0, 12.0, 20):
        assert np.linalg.norm(kinematics.gravity(motion, t)) == pytest.approx(GRAVITY)
        rate = kinematics.angles(motion, t)
        expected = np.hypot(rate[1], rate[4])
        assert np.linalg.norm(kinematics.angular_velocity(motion, t)) == pytest.approx(expected)
