"""Points cut into parts that lie near each other: sizes, nearness, and turns that are fair."""

from __future__ import annotations

import numpy as np

from evenwall.geometry.parts import equal_parts

POINTS = np.random.default_rng(1).uniform(size=(10_000, 3))


def test_parts_hold_every_point_once_and_as_many_as_each_other() -> None:
    for count in (1, 2, 4, 64):
        parts = equal_parts(POINTS, count)
        assert np.array_equal(np.sort(np.concatenate(parts)), np.arange(len(POINTS)))
        sizes = [len(part) for part in parts]
        assert len(sizes) == count
        assert max(sizes) - min(sizes) <= 1


def test_a_part_is_as_compact_as_a_box_of_its_share() -> None:
    widest = max(np.ptp(POINTS[part], axis=0).max() for part in equal_parts(POINTS, 64))
    assert widest < 1.2 / 4  # 64 boxes in a cube have a fourth of its edge


def test_what_every_second_and_every_fourth_part_covers_lies_all_over() -> None:
    """Threads that take every second part have as much of any half of the cube to do."""
    parts = equal_parts(POINTS, 64)
    for turns in (2, 4):
        for turn in range(turns):
            mine = POINTS[np.concatenate(parts[turn::turns])]
            assert np.abs((mine < 0.5).mean(axis=0) - 0.5).max() < 0.02
            assert np.abs(mine.mean(axis=0) - 0.5).max() < 0.04  # over 0.06 if each kept its place
