"""Numbers as they are typed and shown."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenwall.errors import InputError
from evenwall.web import amounts


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3.5", 3.5),
        ("3,5", 3.5),
        (" 3,5 ", 3.5),
        ("1 1/8", 1.125),
        ("-1/4", -0.25),
        ("0,125", 0.125),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("12 500", 12500.0),
        ("12\u202f500,5", 12500.5),
        ("\u22124", -4.0),
        (".5", 0.5),
    ],
)
def test_numbers_as_people_write_them(text: str, value: float) -> None:
    assert amounts.number(text) == value


@pytest.mark.parametrize(
    "text", ["", "three", "1,000", "12,345", "1/0", "nan", "inf", "1..2", "1e", "--3", "0x10"]
)
def test_what_is_no_number_or_two_is_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(InputError, match="write"):
        amounts.number(text)


@given(st.floats(-1e6, 1e6))
def test_shown_numbers_read_back(value: float) -> None:
    assert math.isclose(amounts.number(amounts.plain(value)), value, rel_tol=1e-5, abs_tol=1e-300)


@given(st.floats(0.1, 5000), st.sampled_from(["mm", "g", "mL", "C", "cm2"]))
def test_us_units_there_and_back(value: float, unit: str) -> None:
    other = amounts.shown_unit(unit, "us")
    assert other != unit
    assert math.isclose(
        amounts.converted(amounts.converted(value, unit, other), other, unit), value, rel_tol=1e-9
    )


def test_units_follow_from_the_key() -> None:
    assert amounts.unit_of("wall.target_wall_mm") == "mm"
    assert amounts.unit_of("piece.readings.0.density_g_mL") == "g/mL"
    assert amounts.unit_of("machine.weights.1.weight_g") == "g"
    assert amounts.unit_of("shop.cups_mL.2") == "mL"
    assert amounts.unit_of("resin.name") == ""


def test_amounts_in_both_systems() -> None:
    # 1 inch is 25.4 mm exactly (international yard and pound agreement, 1959)
    assert amounts.amount(0.00254, "mm", "us") == "0.100 in"
    assert amounts.amount(0.003, "mm", "metric") == "3.00 mm"
    assert amounts.amount(295.15, "C", "us") == "72 °F"


def test_times() -> None:
    assert amounts.clock(185.2) == "3:05 min"
    assert amounts.clock(5400) == "1 h 30"
    assert amounts.clock(math.inf) == "never"


def test_sentences_of_the_rooms_are_turned_into_the_users_units() -> None:
    # 1 lb = 453.59237 g, 1 in = 25.4 mm (international agreement of 1959); 0 C = 32 F
    said = "shot 1 of 3: 453.59 g over 25.4 mm at 100 C and 12 by 254 mm, 1.05 g/mL"
    assert amounts.sentence(said, "metric") == "S" + said[1:]
    assert (
        amounts.sentence(said, "us") == "Shot 1 of 3: 16 oz over 1 in at 212 °F and 0.47 by 10 in, 1.05 g/mL"
    )


def test_a_span_names_its_unit_once() -> None:
    assert amounts.span(185.0, 250.0) == "3:05 to 4:10 min"
    assert amounts.span(185.0, 7200.0) == "3:05 min to 2 h 00"
