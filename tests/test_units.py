"""Workshop units against the exact definitions that docs/units.md prints (NIST SP 811, appendix B)."""

import re
from pathlib import Path

import pytest

from evenwall.errors import InputError
from evenwall.units import FACTORS, TEMPERATURES, from_si, to_si

PAGE = (Path(__file__).parent.parent / "docs" / "units.md").read_text(encoding="utf-8")
TABLE = re.findall(r"1 ([a-zA-Z0-9/ ]+?) \| ([\d.e-]+) ", PAGE)


def test_the_table_has_its_units():
    assert len(TABLE) == 12


@pytest.mark.parametrize(("unit", "in_si"), TABLE)
def test_a_unit_is_what_the_page_says(unit, in_si):
    assert to_si(1.0, unit) == pytest.approx(float(in_si), rel=1e-12)


@pytest.mark.parametrize("unit", [*FACTORS, *TEMPERATURES])
def test_there_and_back(unit):
    assert from_si(to_si(3.7, unit), unit) == pytest.approx(3.7, rel=1e-12)


def test_fahrenheit_and_celsius_meet_at_forty_below():
    assert to_si(-40.0, "F") == pytest.approx(to_si(-40.0, "C")) == pytest.approx(233.15)


def test_an_unknown_unit_names_those_that_are_known():
    with pytest.raises(InputError, match=r"furlong.*use one of m, cm, mm"):
        to_si(1.0, "furlong")
