"""Outside checks of the turning: exact means, a general rotation library, finite differences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from scipy.spatial.transform import Rotation

from evenwall.proof.table import Row, within
from evenwall.turning import coverage, kinematics, patterns
from evenwall.turning.kinematics import FloatArray

MEANS = "means over a whole period of g = (-cos T sin nT, -cos T cos nT, sin T), integrated by hand"
ROTATION = "scipy.spatial.transform.Rotation, intrinsic rotations about X then z"
SPHERE = "area of a spherical cap, (1 - cos a)/2 of the sphere"
MOMENT = "mean square of a unit vector's component over the sphere is 1/3"


def rows(*, full: bool) -> Iterator[Row]:
    """Rows of the turning; the same ones whether `full` or not."""
    yield from _means()
    yield from _poles()
    yield from _rotations()
    yield from _rates()
    yield from _even_pattern()


def _means() -> Iterator[Row]:
    for ratio, squares in (
        (1.0, (1 / 8, 3 / 8, 1 / 2)),
        (1.25, (1 / 4, 1 / 4, 1 / 2)),
        (3.0, (1 / 4, 1 / 4, 1 / 2)),
    ):
        period = 2.0 * np.pi * (1.0 if ratio == round(ratio) else 4.0)
        motion = patterns.fixed_ratio(frame_rate=1.0, ratio=ratio, frame_angle=np.pi / 2.0)
        _, g = coverage.sampled(motion, start=0.0, stop=period)
        bias = 0.5 if ratio == 1.0 else 0.0
        got = float(np.linalg.norm(g.mean(axis=0)))
        name = f"{ratio:g} cradle turns per frame turn"
        yield Row(
            check=f"{name}: steady part of gravity", expected=bias, got=got, unit="g",
            tolerance=1e-6, source=MEANS, status="published",
        )  # fmt: skip
        for axis, square in zip("xyz", squares, strict=True):
            mean_square = float((g[:, "xyz".index(axis)] ** 2).mean())
            yield within(
                f"{name}: mean square of gravity along {axis}",
                square,
                mean_square,
                1e-6,
                unit="g2",
                source=MEANS,
            )


def _poles() -> Iterator[Row]:
    motion = patterns.constant(frame_rate=1.0, cradle_rate=(np.sqrt(5.0) - 1.0) / 2.0)
    _, g = coverage.sampled(motion, start=0.0, stop=1000.0)
    share = _pole_share(g)
    yield within(
        "time within 20 degrees of the cradle's poles at constant rates", 80.0 / 360.0, share, 5e-3,
        source="a uniform angle lies 80 of 360 degrees there (elementary)",
    )  # fmt: skip
    even = _pole_share(coverage.sphere_grid(20_000))
    yield within("the same for an even pattern", 1.0 - np.cos(np.deg2rad(20.0)), even, 5e-3, source=SPHERE)


def _pole_share(directions: FloatArray) -> float:
    poles = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]])
    weights = np.ones(len(directions))
    return float(coverage.patch_shares(directions, weights, poles, half_angle=np.deg2rad(20.0)).sum())


def _rotations() -> Iterator[Row]:
    worst = 0.0
    motion = patterns.hand(frame_rate=0.7, cradle_rate=0.5, duration=60.0, hurry=2.0, unevenness=0.2, seed=3)
    for t in np.linspace(0.0, 70.0, 57):
        a = kinematics.angles(motion, t)
        other = Rotation.from_euler("XZ", [a[0], a[3]])
        ours = kinematics.attitude(motion, t)
        turned = other.inv().apply([0.0, 0.0, -kinematics.GRAVITY])
        worst = max(
            worst,
            float(np.abs(ours - other.as_matrix()).max()),
            float(np.abs(turned - kinematics.gravity(motion, t)).max()),
        )
    yield Row(
        check="attitude and gravity in the mold against a rotation library, largest difference", expected=0.0,
        got=worst, unit="", tolerance=1e-12, source=ROTATION, status="published",
    )  # fmt: skip


def _rates() -> Iterator[Row]:
    """Angular velocity from dR/dt = R [w]x, angular acceleration from dw/dt, by central differences."""
    motion = patterns.hand(frame_rate=0.7, cradle_rate=0.5, duration=60.0, unevenness=0.2, seed=3)
    step = 1e-5
    off_w = off_a = 0.0
    for t in np.linspace(0.31, 58.7, 41):
        if np.abs(motion.time - t).min() < 3.0 * step:
            continue
        change = (kinematics.attitude(motion, t + step) - kinematics.attitude(motion, t - step)) / (
            2.0 * step
        )
        cross = kinematics.attitude(motion, t).T @ change
        w = np.array(kinematics.angular_velocity(motion, t))
        off_w = max(off_w, float(np.abs(w - [cross[2, 1], cross[0, 2], cross[1, 0]]).max()))
        later = np.array(kinematics.angular_velocity(motion, t + step))
        sooner = np.array(kinematics.angular_velocity(motion, t - step))
        gain = (later - sooner) / (2.0 * step)
        off_a = max(off_a, float(np.abs(gain - kinematics.angular_acceleration(motion, t)).max()))
    source = "central differences of the rotation matrix, dR/dt = R [w]x"
    for what, off, unit in (("velocity", off_w, "rad/s"), ("acceleration", off_a, "rad/s2")):
        yield Row(
            check=f"angular {what} against differences of the attitude, largest error", expected=0.0, got=off,
            unit=unit, tolerance=1e-7, source=source, status="published",
        )  # fmt: skip


def _even_pattern() -> Iterator[Row]:
    grid = coverage.sphere_grid(5_000)
    seen = coverage.of_directions(grid, np.ones(len(grid)))
    yield Row(
        check="second moment of evenly spread directions", expected=0.0, got=seen.skew, unit="",
        tolerance=1e-3, source=MOMENT, status="published",
    )  # fmt: skip
    rest = coverage.evenness(patterns.still(), start=0.0, stop=1.0)
    yield within("second moment at rest, largest eigenvalue", 2.0 / 3.0, rest.skew, 1e-9, source=MOMENT)
    yield within(
        "largest gap at rest is the whole half turn",
        np.pi,
        rest.largest_gap,
        2e-2,
        unit="rad",
        source="geometry",
    )
