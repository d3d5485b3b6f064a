"""Ways of turning: constant rates, a fixed ratio, a pair of hands, rest, and what was recorded.

A ratio here is always: turns of the cradle, relative to the frame, per turn of the frame.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import cumulative_trapezoid
from scipy.interpolate import CubicHermiteSpline

from evenwall.errors import MotionError
from evenwall.turning.kinematics import FloatArray, Motion, angles


def constant(
    *, frame_rate: float, cradle_rate: float, frame_angle: float = 0.0, cradle_angle: float = 0.0
) -> Motion:
    """Both axes at constant rates [rad/s] for ever, from the given angles [rad] at time 0."""
    return _knots([(0.0, frame_angle, frame_rate, cradle_angle, cradle_rate)])


def fixed_ratio(*, frame_rate: float, ratio: float, frame_angle: float = 0.0) -> Motion:
    """A frame at a constant rate [rad/s] that drives its cradle through gears or a belt.

    `ratio` [-]: turns of the cradle, relative to the frame, per turn of the frame; 1 leaves half a g
    of steady bias in the mold and is the worst choice.
    """
    return constant(frame_rate=frame_rate, cradle_rate=ratio * frame_rate, frame_angle=frame_angle)


def geared(motion: Motion, *, ratio: float) -> Motion:
    """The same pushes of the frame with a cradle that it drives: `ratio` [-] cradle turns per frame turn."""
    return motion._replace(cradle_angle=ratio * motion.frame_angle, cradle_rate=ratio * motion.frame_rate)


def still(*, frame_angle: float = 0.0, cradle_angle: float = 0.0) -> Motion:
    """The mold at rest in one pose; angles [rad]."""
    return constant(frame_rate=0.0, cradle_rate=0.0, frame_angle=frame_angle, cradle_angle=cradle_angle)


def hand(
    *,
    frame_rate: float,
    cradle_rate: float,
    duration: float,
    frame_turns: tuple[float, float] = (1.75, 1.25),
    cradle_turns: tuple[float, float] = (2.75, 2.25),
    turnaround: float = 1.5,
    hurry: float = 1.0,
    unevenness: float = 0.0,
    seed: int = 0,
) -> Motion:
    """Both axes pushed by hand, each on its own, forth and back, then at rest.

    frame_rate, cradle_rate [rad/s]: rate of a push. duration [s]: when the mold comes to rest.
    frame_turns, cradle_turns [turns]: lengths of a push forth and of a push back, shape (2,); where they
    differ the pattern creeps on and does not retrace itself.
    turnaround [s]: time to slow down, stop and go the other way at a steady deceleration.
    hurry [-]: how many times faster than at its slowest the frame is pushed where the cradle axis stands
    upright; 1 is a steady push, which lingers at the cradle's poles; the mean rate stays `frame_rate`.
    unevenness [-]: standard deviation of the rate from push to push, as a fraction; same seed, same motion.
    Raises MotionError where a value is out of range.
    """
    _require(duration > 0.0, "duration", duration, "above 0 s")
    _require(turnaround > 0.0, "turnaround", turnaround, "above 0 s")
    _require(1.0 <= hurry <= 10.0, "hurry", hurry, "from 1 to 10")
    _require(0.0 <= unevenness <= 0.5, "unevenness", unevenness, "from 0 to 0.5")
    chance = np.random.default_rng(seed)
    frame = _pushes(frame_rate, frame_turns, duration, turnaround, unevenness, chance)
    cradle = _pushes(cradle_rate, cradle_turns, duration, turnaround, unevenness, chance)
    return _merged(_hurried(frame, hurry), cradle)


def unsteady(
    motion: Motion,
    *,
    until: float,
    unevenness: float = 0.2,
    pause: float = 2.0,
    every: float = 4.0,
    seed: int = 0,
) -> Motion:
    """The motion as real hands follow it up to `until` [s]: the same path, each axis at a pace of its own.

    unevenness [-]: standard deviation of the pace, drawn anew for every `every` [s] and between a quarter and twice
    the motion's; one time in ten an axis rests for `pause` [s] on top. Same seed, same motion. From `until` on
    both axes go on at the rates they have there. Raises MotionError where a value is out of range.
    Example: unevenness 0.2, pauses of 2 s (common practice, no source).
    """
    _require(0.0 <= unevenness <= 0.5, "unevenness", unevenness, "from 0 to 0.5")
    _require(0.0 <= pause <= every, "pause", pause, f"from 0 to {every:g} s")
    _require(until > every > 0.0, "end of the uneven pushing", until, f"above {every:g} s")
    chance = np.random.default_rng(seed)
    step = 0.25 * every
    time = np.arange(0.0, until + step, step)
    columns = [time]
    for axis in (0, 3):
        pace = np.clip(1.0 + unevenness * chance.standard_normal(len(time) // 4 + 2), 0.25, 2.0)
        pace = np.interp(time, every * np.arange(len(pace)), pace)
        rests = np.flatnonzero(chance.random(len(time)) < 0.025)  # four steps to every new pace
        for k in range(round(pause / step)):
            pace[np.minimum(rests + k, len(time) - 1)] = 0.0
        own = cumulative_trapezoid(pace, time, initial=0.0)
        there = np.array([angles(motion, float(t)) for t in own])
        columns += [there[:, axis], there[:, axis + 1] * pace]
    return Motion(*(np.ascontiguousarray(column) for column in columns))


def recorded(
    time: ArrayLike, frame_angle: ArrayLike, cradle_angle: ArrayLike, *, unwrap: bool = True
) -> Motion:
    """A motion through recorded angles [rad] at ascending times [s], all of shape (k,), k >= 2.

    Rates come from second-order differences. With `unwrap`, jumps of a turn (from an encoder or a
    phone that counts to 360 degrees) are taken out. After the last reading the mold is at rest.
    Raises MotionError for times that do not ascend, or values that are not finite.
    """
    t, phi, theta = (np.array(column, dtype=np.float64) for column in (time, frame_angle, cradle_angle))
    if t.ndim != 1 or t.size < 2 or t.shape != phi.shape or t.shape != theta.shape:
        raise MotionError(
            f"recorded motion has {t.size} times, {phi.size} frame and {theta.size} cradle angles:"
            " give at least two rows, each with all three"
        )
    for name, column in (("time", t), ("frame angle", phi), ("cradle angle", theta)):
        if not np.isfinite(column).all():
            row = int(np.flatnonzero(~np.isfinite(column))[0]) + 1
            raise MotionError(f"recorded motion, row {row}: {name} is not a number: take the row out")
    if not (np.diff(t) > 0.0).all():
        row = int(np.flatnonzero(np.diff(t) <= 0.0)[0]) + 2
        raise MotionError(
            f"recorded motion, row {row}: time {t[row - 1]:g} s is not after the row before: sort the rows"
        )
    if unwrap:
        phi, theta = np.unwrap(phi), np.unwrap(theta)
    order: Literal[1, 2] = 2 if t.size > 2 else 1
    phi_rate = np.asarray(np.gradient(phi, t, edge_order=order), dtype=np.float64)
    theta_rate = np.asarray(np.gradient(theta, t, edge_order=order), dtype=np.float64)
    phi_rate[-1] = theta_rate[-1] = 0.0
    return Motion(t, phi, phi_rate, theta, theta_rate)


def stopped(motion: Motion, *, at: float, within: float = 1.0) -> Motion:
    """The motion until `at` [s], then slowed down to rest over `within` [s]."""
    phi, phi_rate, _, theta, theta_rate, _ = angles(motion, at)
    return propped(
        motion,
        at=at,
        within=within,
        frame_angle=phi + 0.5 * phi_rate * within,
        cradle_angle=theta + 0.5 * theta_rate * within,
    )


def propped(
    motion: Motion, *, at: float, frame_angle: float, cradle_angle: float, within: float = 2.0
) -> Motion:
    """The motion until `at` [s], then brought within `within` [s] to rest in the given pose [rad].

    The pose is reached as given, whole turns included; use `nearest` for the shortest way.
    """
    _require(within > 0.0, "time to come to rest", within, "above 0 s")
    knots = [*_until(motion, at), (at + within, frame_angle, 0.0, cradle_angle, 0.0)]
    return _knots(knots)


def nearest(angle: float, *, to: float) -> float:
    """`angle` [rad] moved by whole turns so that it lies within half a turn of `to` [rad]."""
    turn = 2.0 * np.pi
    return float(angle + turn * np.round((to - angle) / turn))


def joined(first: Motion, second: Motion, *, at: float, blend: float = 1.0) -> Motion:
    """The first motion until `at` [s], then the second, whose own clock starts at `at`.

    The second's angles are shifted to go on from the first's; the rates pass over into each other
    during `blend` [s].
    """
    _require(blend > 0.0, "blend", blend, "above 0 s")
    head = _until(first, at)
    _, phi, phi_rate, theta, theta_rate = head[-1]
    later = angles(second, blend)
    phi_met = phi + 0.5 * blend * (phi_rate + later[1])
    theta_met = theta + 0.5 * blend * (theta_rate + later[4])
    tail = [(at + blend, phi_met, later[1], theta_met, later[4])]
    for t in second.time[second.time > blend]:
        a, a_rate, _, b, b_rate, _ = angles(second, float(t))
        shifted = (phi_met + a - later[0], a_rate, theta_met + b - later[3], b_rate)
        tail.append((at + float(t), *shifted))
    return _knots([*head, *tail])


Knot = tuple[float, float, float, float, float]


def _knots(rows: list[Knot]) -> Motion:
    """A motion from rows of time, frame angle, frame rate, cradle angle, cradle rate."""
    table = np.array(rows, dtype=np.float64)
    if not np.isfinite(table).all():
        raise MotionError("a rate, angle or time of the turning is not a finite number: give a finite one")
    return Motion(*(np.ascontiguousarray(column) for column in table.T))


def _until(motion: Motion, at: float) -> list[Knot]:
    """The knots of a motion before `at`, and one at `at`.

    A cubic cut in two stays the same cubic, so nothing before `at` changes.
    """
    if at < motion.time[0]:
        raise MotionError(
            f"time {at:g} s lies before the turning starts at {motion.time[0]:g} s: take a later one"
        )
    times = [*(float(t) for t in motion.time if t < at), at]
    rows = []
    for t in times:
        phi, phi_rate, _, theta, theta_rate, _ = angles(motion, t)
        rows.append((t, phi, phi_rate, theta, theta_rate))
    return rows


def _pushes(
    rate: float,
    turns: tuple[float, float],
    duration: float,
    turnaround: float,
    unevenness: float,
    chance: np.random.Generator,
) -> FloatArray:
    """Knots (time, angle, rate), shape (k, 3), of one axis that starts and ends at rest.

    Between knots the rate is linear in time, so a cubic through them is exact.
    """
    _require(min(turns) > 0.0, "length of a push", min(turns), "above 0 turns")
    ramp = 0.5 * turnaround
    knots = [(0.0, 0.0, 0.0)]
    t, angle, forward = 0.0, 0.0, True
    while rate != 0.0 and t < duration:
        luck = max(1.0 + unevenness * chance.standard_normal(), 0.25)
        pace = rate * luck if forward else -rate * luck
        length = 2.0 * np.pi * turns[0 if forward else 1]
        steady = max(length / abs(pace) - ramp, 0.0)
        for lasting, start, end in ((ramp, 0.0, pace), (steady, pace, pace), (ramp, pace, 0.0)):
            if lasting > 0.0:
                t += lasting
                angle += 0.5 * (start + end) * lasting
                knots.append((t, angle, end))
        forward = not forward
    return _cut(np.array(knots), duration, ramp)


def _cut(knots: FloatArray, duration: float, ramp: float) -> FloatArray:
    """The knots of one axis, slowed down so that it is at rest at `duration` [s] and after."""
    begin = max(duration - ramp, 0.0)
    kept = knots[(knots[:, 0] < begin) | (knots[:, 0] == 0.0)]
    last_time, last_angle, last_rate = kept[-1]
    rate = float(np.interp(begin, knots[:, 0], knots[:, 2]))
    angle = last_angle + 0.5 * (last_rate + rate) * (begin - last_time)
    slowing = [(begin, angle, rate)] if begin > last_time else []
    rest = (duration, angle + 0.5 * rate * (duration - begin), 0.0)
    return np.vstack([kept, *slowing, rest])


def _hurried(knots: FloatArray, hurry: float) -> FloatArray:
    """Knots (time, frame angle, rate) that pass the upright attitudes (angles 0 and 180 degrees) faster.

    Time spent per angle goes as max(|sin phi|, 1/hurry), so that gravity's height along the cradle axis
    changes steadily, as an even pattern would have it, except close to the poles.
    """
    if hurry == 1.0:
        return knots
    angle = np.linspace(0.0, np.pi, 3601)
    lingering = np.maximum(np.sin(angle), 1.0 / hurry)
    phase = cumulative_trapezoid(lingering, angle, initial=0.0)
    scale = np.pi / phase[-1]
    steps = [np.linspace(a, b, 2 + int(c)) for a, b, c in _spans(knots)]
    time = np.unique(np.concatenate(steps))
    base = CubicHermiteSpline(knots[:, 0], knots[:, 1], knots[:, 2])
    turns, rest = np.divmod(base(time), np.pi)
    phi = np.interp(rest, scale * phase, angle)
    rate = base(time, 1) / (scale * np.maximum(np.sin(phi), 1.0 / hurry))
    return np.column_stack((time, turns * np.pi + phi, rate))


def _spans(knots: FloatArray) -> list[tuple[float, float, float]]:
    """Start and end [s] of each interval between knots, and its turn in steps of 10 degrees."""
    turned = np.abs(np.diff(knots[:, 1])) / np.deg2rad(10.0)
    return [
        (float(a), float(b), float(c)) for a, b, c in zip(knots[:-1, 0], knots[1:, 0], turned, strict=True)
    ]


def _merged(frame: FloatArray, cradle: FloatArray) -> Motion:
    """One motion from two axes with knots (time, angle, rate) of their own; no curve changes."""
    time = np.unique(
        np.round(np.concatenate([frame[:, 0], cradle[:, 0]]), 9)
    )  # equal but for round-off: one knot
    columns = [time]
    for knots in (frame, cradle):
        curve = CubicHermiteSpline(knots[:, 0], knots[:, 1], knots[:, 2])
        rate = curve(time, 1)
        rate[-1] = knots[-1, 2]
        columns += [curve(time), rate]
    return Motion(*columns)


def _require(holds: bool, name: str, value: float, limit: str) -> None:
    if not holds:
        raise MotionError(f"{name} of the turning is {value:g}: it must be {limit}")
