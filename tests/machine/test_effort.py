"""Force of the hands through a turn, and clamps in opposite pairs."""

import numpy as np
import pytest

from evenwall.errors import InputError
from evenwall.machine import effort, pairs, torque
from evenwall.machine.counterweights import Rims
from evenwall.turning import patterns

RIMS = Rims(frame=0.3, cradle=0.15)


def test_turned_slowly_and_without_friction_the_hand_holds_only_gravity() -> None:
    frame, cradle = np.array([0.0, 0.02, -0.05]), np.array([0.03, 0.01, 0.0])
    motion = patterns.constant(frame_rate=0.6, cradle_rate=0.371)
    found = effort.effort(
        motion, frame_moment=frame, cradle_moment=cradle, frame_inertia=0.5, cradle_inertia=0.1,
        friction=(0.0, 0.0), rims=RIMS, start=0.0, stop=2000.0, points=20_000,
    )  # fmt: skip
    worst = torque.worst(frame, cradle)
    assert found.most_frame == pytest.approx(worst.frame / RIMS.frame, rel=0.01)
    assert found.most_cradle == pytest.approx(worst.cradle / RIMS.cradle, rel=0.01)


def test_a_balanced_mass_of_any_size_turns_by_a_light_push() -> None:
    """2 to 4 N at the rim (common practice, no source), here of inertia and friction alone."""
    motion = patterns.hand(frame_rate=0.6, cradle_rate=0.5, duration=60.0)
    found = effort.effort(
        motion, frame_moment=np.zeros(3), cradle_moment=np.zeros(3), frame_inertia=0.8, cradle_inertia=0.1,
        friction=(0.2, 0.1), rims=RIMS, start=0.0, stop=60.0,
    )  # fmt: skip
    assert 1.0 < found.most_frame < 4.0


@pytest.mark.parametrize("count", [4, 6, 10])
def test_clamps_of_two_kinds_balance_each_other_in_opposite_pairs(count: int) -> None:
    angle = 2.0 * np.pi * np.arange(count) / count
    seats = [(0.1 * float(np.cos(a)), 0.1 * float(np.sin(a)), 0.15) for a in angle]
    masses = [0.5, 0.5] + [0.3] * (count - 2)
    order = pairs.opposite_pairs(masses, seats)
    assert sorted(order) == list(range(count))
    moment = sum(masses[clamp] * np.array(seat[:2]) for clamp, seat in zip(order, seats, strict=True))
    assert np.linalg.norm(moment) < 1e-9
    with pytest.raises(InputError, match="one clamp for each seat"):
        pairs.opposite_pairs(masses, seats[:-1])
