"""Patterns: smooth, gentle, both ways, and joined without a jerk."""

import numpy as np
import pytest
from numpy.typing import NDArray

from evenwall.errors import MotionError
from evenwall.turning import kinematics, patterns
from evenwall.turning.kinematics import Motion


def sampled(motion: Motion, start: float, stop: float, count: int = 6001) -> NDArray[np.float64]:
    return np.array([kinematics.angles(motion, t) for t in np.linspace(start, stop, count)])


@pytest.mark.parametrize("hurry", [1.0, 2.5])
def test_hands_turn_both_ways_and_come_to_rest(hurry: float) -> None:
    motion = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=120.0, hurry=hurry)
    a = sampled(motion, 0.0, 120.0)
    for column in (1, 4):
        assert a[:, column].max() > 0.4
        assert a[:, column].min() < -0.4
        assert a[[0, -1], column] == pytest.approx(0.0, abs=1e-9)
    assert kinematics.angles(motion, 500.0)[1] == 0.0


@pytest.mark.parametrize("hurry", [1.0, 2.5])
def test_turnarounds_are_gentle(hurry: float) -> None:
    """Over a decimetre the Euler term stays small beside gravity."""
    motion = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=120.0, turnaround=1.5, hurry=hurry)
    a = sampled(motion, 0.0, 121.0)
    largest = np.abs(a[:, [2, 5]]).max()
    assert largest * 0.1 < 0.05 * kinematics.GRAVITY
    steps = np.abs(np.diff(a[:, [1, 4]], axis=0)).max()
    assert steps <= 1.01 * largest * 121.0 / 6000


def test_a_push_is_as_long_and_as_quick_as_asked() -> None:
    motion = patterns.hand(
        frame_rate=0.6, cradle_rate=0.5, duration=1000.0, frame_turns=(2.0, 1.0), cradle_turns=(1.0, 0.5)
    )
    a = sampled(motion, 0.0, 40.0)
    assert a[:, 0].max() / (2.0 * np.pi) == pytest.approx(2.0, rel=1e-6)
    assert a[:, 1].max() == pytest.approx(0.6)
    first_turnaround = np.argmax(a[:, 4] < 0.0)
    assert a[first_turnaround, 3] / (2.0 * np.pi) == pytest.approx(1.0, rel=1e-3)


def test_hurrying_through_the_upright_attitudes_keeps_pushes_and_time() -> None:
    plain = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=200.0)
    quick = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=200.0, hurry=3.0)
    a, b = sampled(plain, 0.0, 200.0), sampled(quick, 0.0, 200.0)
    np.testing.assert_allclose(a[:, 3], b[:, 3], atol=1e-9)
    assert np.abs(a[:, 0] - b[:, 0]).max() < np.pi / 4
    upright = np.abs(np.sin(b[:, 0])) < 0.1
    level = np.abs(np.sin(b[:, 0])) > 0.9
    steady = np.isclose(np.abs(a[:, 1]), 0.6)
    assert np.median(np.abs(b[upright & steady, 1])) > 2.4 * np.median(np.abs(b[level & steady, 1]))


def test_uneven_hands_repeat_with_the_seed_and_only_with_it() -> None:
    first, again, other = (
        patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=90.0, unevenness=0.2, seed=seed)
        for seed in (1, 1, 2)
    )
    np.testing.assert_array_equal(first.time, again.time)
    assert first.time.shape != other.time.shape or not np.allclose(first.time, other.time)


def test_geared_axes_keep_their_ratio() -> None:
    motion = patterns.geared(patterns.hand(frame_rate=0.6, cradle_rate=0.0, duration=60.0), ratio=1.6)
    a = sampled(motion, 0.0, 60.0, 200)
    np.testing.assert_allclose(a[:, 3], 1.6 * a[:, 0], atol=1e-9)


def test_a_recorded_turning_is_found_again() -> None:
    true = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=60.0)
    time = np.arange(0.0, 60.0, 0.1)
    rows = np.array([kinematics.angles(true, t) for t in time])
    motion = patterns.recorded(time, np.mod(rows[:, 0], 2 * np.pi), np.mod(rows[:, 3], 2 * np.pi))
    at = np.arange(0.05, 59.0, 0.37)
    found = np.array([kinematics.angles(motion, t)[0] for t in at])
    asked = np.array([kinematics.angles(true, t)[0] for t in at])
    assert np.abs(found - asked).max() < 2e-3


def test_stopping_changes_nothing_before_and_moves_nothing_after() -> None:
    motion = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=120.0, hurry=2.0)
    stopped = patterns.stopped(motion, at=33.3, within=1.0)
    before = np.abs(sampled(motion, 0.0, 33.3, 500) - sampled(stopped, 0.0, 33.3, 500))
    assert before[:, [0, 1, 3, 4]].max() < 1e-9
    after = sampled(stopped, 34.3, 90.0, 50)
    assert np.ptp(after[:, 0]) == pytest.approx(0.0, abs=1e-12)
    assert np.abs(after[:, [1, 4]]).max() == 0.0


def test_a_propped_mold_rests_in_its_pose_reached_the_short_way() -> None:
    motion = patterns.constant(frame_rate=0.6, cradle_rate=0.5)
    now = kinematics.angles(motion, 50.0)
    pose = patterns.nearest(1.0, to=now[0]), patterns.nearest(-2.0, to=now[3])
    assert abs(pose[0] - now[0]) <= np.pi
    rest = patterns.propped(motion, at=50.0, frame_angle=pose[0], cradle_angle=pose[1])
    asked = kinematics.rotation(frame_angle=1.0, cradle_angle=-2.0)
    np.testing.assert_allclose(kinematics.attitude(rest, 80.0), asked, atol=1e-9)


def test_joined_motions_pass_over_without_a_jump() -> None:
    first = patterns.still(frame_angle=0.4)
    second = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=60.0)
    motion = patterns.joined(first, second, at=90.0)
    a = sampled(motion, 85.0, 155.0)
    assert np.abs(np.diff(a[:, [1, 4]], axis=0)).max() < 0.05
    assert kinematics.angles(motion, 89.0)[0] == pytest.approx(0.4)
    late = kinematics.angles(motion, 90.0 + 30.0)
    assert late[1] == pytest.approx(kinematics.angles(second, 30.0)[1])


def test_unsteady_hands_go_the_same_way_at_their_own_pace() -> None:
    steady = patterns.constant(frame_rate=1.0, cradle_rate=0.7)
    uneven = patterns.unsteady(steady, until=400.0)
    a = sampled(uneven, 0.0, 400.0)
    for column, rate in ((0, 1.0), (3, 0.7)):
        assert np.diff(a[:, column]).min() > -1e-9  # never back where the steady motion never goes back
        assert a[-1, column] == pytest.approx(400.0 * rate, rel=0.15)
        assert a[:, column + 1].min() == pytest.approx(0.0, abs=0.02)  # rests now and then
        assert 0.15 < np.std(a[:, column + 1]) / rate < 0.45
    assert np.corrcoef(a[:, 1], a[:, 4])[0, 1] < 0.5  # each axis by itself
    again, other = (patterns.unsteady(steady, until=400.0, seed=seed) for seed in (0, 1))
    np.testing.assert_array_equal(again.frame_angle, uneven.frame_angle)
    assert not np.array_equal(other.frame_angle, uneven.frame_angle)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: patterns.hand(frame_rate=1, cradle_rate=1, duration=0), "duration"),
        (lambda: patterns.hand(frame_rate=1, cradle_rate=1, duration=9, hurry=0.5), "hurry"),
        (lambda: patterns.hand(frame_rate=1, cradle_rate=1, duration=9, frame_turns=(0, 1)), "push"),
        (lambda: patterns.constant(frame_rate=float("nan"), cradle_rate=1), "finite"),
        (lambda: patterns.unsteady(patterns.still(), until=60.0, unevenness=0.9), "unevenness"),
        (lambda: patterns.recorded([0, 1, 1], [0, 1, 2], [0, 1, 2]), "row 3"),
        (lambda: patterns.recorded([0, 1, 2], [0, np.nan, 2], [0, 1, 2]), "row 2"),
        (lambda: patterns.recorded([0.0], [0.0], [0.0]), "two rows"),
        (lambda: patterns.recorded([0, 1], [0, 1], [0, 1, 2]), "all three"),
    ],
)
def test_a_turning_that_cannot_be_says_so(call, sentence: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(MotionError, match=sentence):
        call()
