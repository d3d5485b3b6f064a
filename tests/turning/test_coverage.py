"""Evenness of the directions: what counts, and what is called starved."""

import numpy as np
import pytest

from evenwall.errors import MotionError
from evenwall.turning import coverage, patterns


def test_rest_starves_all_but_one_patch() -> None:
    seen = coverage.evenness(patterns.still(), start=0.0, stop=10.0)
    assert seen.bias == pytest.approx(1.0)
    assert seen.starved_share > 0.95
    assert seen.gap_direction[2] == pytest.approx(1.0, abs=1e-2)


def test_passing_the_poles_quickly_is_more_even() -> None:
    seen = [
        coverage.evenness(
            patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=300.0, hurry=hurry), start=0.0, stop=300.0
        )
        for hurry in (1.0, 2.5)
    ]
    assert seen[1].spread < 0.75 * seen[0].spread
    assert abs(seen[1].skew) < 0.5 * abs(seen[0].skew)


def test_only_the_time_with_weight_counts() -> None:
    motion = patterns.stopped(patterns.constant(frame_rate=0.6, cradle_rate=0.371), at=200.0)
    whole = coverage.evenness(motion, start=0.0, stop=400.0)
    weighed = coverage.evenness(
        motion, start=0.0, stop=400.0,
        weight_time=np.array([0.0, 199.0, 200.0, 400.0]), weight=np.array([1.0, 1.0, 0.0, 0.0]),
    )  # fmt: skip
    turning = coverage.evenness(motion, start=0.0, stop=199.5)
    assert whole.bias > 0.3
    assert weighed.bias == pytest.approx(turning.bias, abs=5e-3)
    np.testing.assert_allclose(weighed.second_moment, turning.second_moment, atol=5e-3)


def test_a_gap_is_found_where_it_was_left() -> None:
    grid = coverage.sphere_grid(4000)
    hole = np.array([0.6, 0.0, 0.8])
    kept = grid[grid @ hole < np.cos(np.deg2rad(30.0))]
    seen = coverage.of_directions(kept, np.ones(len(kept)))
    assert seen.largest_gap == pytest.approx(np.deg2rad(30.0), abs=np.deg2rad(2.0))
    assert seen.gap_direction @ hole > np.cos(np.deg2rad(3.0))
    assert (seen.starved @ hole > np.cos(np.deg2rad(25.0))).all()


def test_shares_of_patches_do_not_depend_on_the_sampling() -> None:
    motion = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=100.0)
    coarse = coverage.evenness(motion, start=0.0, stop=100.0)
    time = np.linspace(0.0, 100.0, 40_001)[1:]
    fine = np.array([coverage.gravity(motion, t) for t in time]) / coverage.GRAVITY
    assert coverage.of_directions(fine, np.ones(len(fine))).spread == pytest.approx(coarse.spread, rel=0.02)


def test_a_turning_that_never_counts_says_so() -> None:
    with pytest.raises(MotionError, match="later stop"):
        coverage.evenness(patterns.still(), start=5.0, stop=5.0)
    with pytest.raises(MotionError, match="must flow"):
        coverage.evenness(
            patterns.still(), start=0.0, stop=5.0, weight_time=np.array([0.0, 5.0]), weight=np.zeros(2)
        )
