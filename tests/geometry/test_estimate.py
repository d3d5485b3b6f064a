"""Sizes without a scan: closed forms, weighted means, stand-ins, and sentences for what can't be."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.errors import InputError
from evenwall.geometry.estimate import (
    Known,
    boxed,
    combined,
    dunked,
    earlier_shots,
    estimate,
    hollow_casting,
    solid_casting,
    taped,
)
from evenwall.geometry.loft import loft, stand_in
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import is_closed


@pytest.mark.parametrize("long", [0.5, 1.0, 2.5])
def test_a_loft_through_eight_girths_of_a_spheroid_has_its_volume(long: float) -> None:
    z = np.linspace(-0.05 * long, 0.05 * long, 8)
    shape = loft(z, 2.0 * np.pi * 0.05 * np.sqrt(np.maximum(1.0 - (z / (0.05 * long)) ** 2, 0.0)))
    assert is_closed(shape)
    assert volume(shape) == pytest.approx(4.0 / 3.0 * np.pi * 0.05**3 * long, rel=0.03)


def test_a_loft_of_two_girths_is_a_frustum() -> None:
    shape = loft([0.0, 0.1], [2.0 * np.pi * 0.05, 2.0 * np.pi * 0.03])
    assert volume(shape) == pytest.approx(np.pi * 0.1 * (0.05**2 + 0.05 * 0.03 + 0.03**2) / 3.0, rel=2e-3)


@pytest.mark.parametrize(("factor", "slenderness"), [(5.0, 3.0), (6.0, 1.5), (9.0, 2.0), (14.0, 1.0)])
def test_a_stand_in_has_the_wanted_area_and_volume(factor: float, slenderness: float) -> None:
    wanted = 3e-4
    shape = stand_in(factor * wanted ** (2 / 3), wanted, slenderness=slenderness)
    assert is_closed(shape)
    assert volume(shape) == pytest.approx(wanted, rel=1e-9)
    assert area(shape) == pytest.approx(factor * wanted ** (2 / 3), rel=1e-6)


def test_less_area_than_a_ball_is_refused() -> None:
    with pytest.raises(InputError, match="the least there is"):
        stand_in(4.8 * 1e-4 ** (2 / 3), 1e-4, slenderness=1.0)


def test_a_hollow_ball_gives_its_own_area_back() -> None:
    outer, wall, density = 0.05, 0.004, 1050.0
    mass = density * 4.0 / 3.0 * np.pi * (outer**3 - (outer - wall) ** 3)
    found = hollow_casting(mass, density, [wall] * 4).area
    assert found is not None
    assert found.value == pytest.approx(4.0 * np.pi * outer**2, rel=1e-9)


def test_scattered_readings_count_less() -> None:
    even = hollow_casting(0.15, 1050.0, [3e-3, 3e-3, 3e-3]).area
    uneven = hollow_casting(0.15, 1050.0, [1e-3, 3e-3, 5e-3]).area
    assert even is not None
    assert uneven is not None
    assert uneven.error > 2.0 * even.error


def test_more_clues_make_it_surer_and_their_shares_sum_to_one() -> None:
    weighed, dipped = solid_casting(0.33, 1100.0), dunked(3.05e-4)
    shots, box = earlier_shots(0.04, 1050.0, 3), boxed((0.1, 0.08, 0.07))
    all_of_it = estimate([weighed, dipped, shots, box])
    assert sum(all_of_it.volume_shares) == pytest.approx(1.0)
    assert 0.0 < all_of_it.area_shares[2] < 0.5
    assert all_of_it.area_shares[:2] == (0.0, 0.0)
    assert all_of_it.volume.error < estimate([weighed]).volume.error
    assert volume(all_of_it.surface) == pytest.approx(all_of_it.volume.value, rel=1e-9)
    assert area(all_of_it.surface) == pytest.approx(all_of_it.area.value, rel=1e-6)


def test_the_order_does_not_matter_and_an_unsure_value_hardly_counts() -> None:
    a, b, c = Known(value=10.0, error=1.0), Known(value=13.0, error=2.0), Known(value=99.0, error=1e6)
    assert combined([a, b])[0].value == pytest.approx(combined([b, a])[0].value)
    assert combined([a, b, c])[0].value == pytest.approx(combined([a, b])[0].value, rel=1e-6)


def test_a_tape_alone_keeps_its_own_shape() -> None:
    clue = taped([0.0, 0.05, 0.1], [0.1, 0.2, 0.1])
    assert estimate([clue]).surface is clue.surface


def test_what_can_not_be_is_said_in_a_sentence() -> None:
    with pytest.raises(InputError, match="at least 1 reading"):
        estimate([])
    with pytest.raises(InputError, match="do not rise"):
        loft([0.0, 0.0], [0.1, 0.1])
    with pytest.raises(InputError, match="only the foot and the top"):
        loft([0.0, 0.1, 0.2], [0.1, 0.0, 0.1])
    with pytest.raises(InputError, match="would have no hollow"):
        hollow_casting(0.001, 1000.0, [0.01])
    with pytest.raises(InputError, match="use one of ball, rounded, carved"):
        boxed((0.1, 0.1, 0.1), shape="odd")
