"""Figures in words."""

from functools import partial

import pytest

from evenwall.reports.summary import left_open, length

# A wall can't be thinner than nothing (arithmetic): a band that reaches 0 is told from there.
BANDS = [
    (3.16e-3, 0.34e-3, "± 0.34 mm"),
    (1.99e-3, 1.99e-3, "(0 to 3.98 mm)"),
    (0.5e-3, 0.8e-3, "(0 to 1.30 mm)"),
    (0.0, 0.8e-3, "(0 to 0.80 mm)"),
    (0.0, 0.0, "± 0.00 mm"),
]


@pytest.mark.parametrize(("value", "half", "told"), BANDS)
def test_a_band_that_reaches_nothing_is_told_from_there(value, half, told):
    assert left_open(value, half, partial(length, us=False)) == told
