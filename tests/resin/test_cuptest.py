"""A cup test corrects the sheet: constants that made the readings are found again, and odd tests refused."""

from dataclasses import replace

import numpy as np
import pytest

from evenwall.errors import ResinError
from evenwall.files.cup_test_file import read_cup_temperatures
from evenwall.files.resin_file import load_resin
from evenwall.resin.cuptest import fit_cups
from evenwall.resin.data import CupTest
from evenwall.resin.history import time_of_conversion
from evenwall.resin.witness import Cup, cup_history

WARMTHS = ((0.05, 293.15), (0.15, 299.15))


@pytest.fixture(scope="module")
def other():
    """A resin that is faster and hotter than its sheet says."""
    resin = load_resin("museum-gradual")
    cure = resin.cure._replace(rate_factor=1.25 * resin.cure.rate_factor)
    return replace(resin, cure=cure, reaction_heat=1.12 * resin.reaction_heat)


def seen(resin, mass, warm, *, readings):
    history = cup_history(resin, Cup(), mass, temperature=warm, air_temperature=warm, end=900.0)
    times = np.arange(10.0, 400.0, 10.0) if readings else ()
    noise = np.random.default_rng(5).normal(0.0, 0.5, len(times))
    return CupTest(
        mass=mass,
        temperature=warm,
        air_temperature=warm,
        gel=time_of_conversion(history, resin.cure.gel),
        times=tuple(times),
        temperatures=tuple(np.interp(times, history.time, history.temperature) + noise),
    )


def test_readings_bring_back_the_gel_and_the_heat(other):
    tests = tuple(seen(other, mass, warm, readings=True) for mass, warm in WARMTHS)
    fit = fit_cups(load_resin("museum-gradual"), tests)
    for before, after, test in zip(fit.gel_before, fit.gel_after, tests, strict=True):
        assert abs(after / test.gel - 1.0) < 0.02 < abs(before / test.gel - 1.0)
    assert fit.resin.reaction_heat == pytest.approx(other.reaction_heat, rel=0.03)
    assert fit.misfit < 1.0
    for row in fit.learnt:
        assert row.low < row.after < row.high


def test_temperatures_make_the_heat_surer_than_a_gel_time_alone(other):
    def width(readings):
        tests = tuple(seen(other, mass, warm, readings=readings) for mass, warm in WARMTHS)
        heat = next(row for row in fit_cups(load_resin("museum-gradual"), tests).learnt if "heat" in row.name)
        return heat.high - heat.low

    assert width(True) < 0.5 * width(False)


def test_a_test_far_from_the_sheet_is_told():
    odd = CupTest(mass=0.1, temperature=296.15, air_temperature=296.15, gel=1500.0)
    assert any("disagree" in warning for warning in fit_cups(load_resin("museum-gradual"), (odd,)).warnings)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"gel": None}, "neither a gel time nor temperatures"),
        ({"gel": 2.0}, "outside 10 s to 8 h"),
        ({"times": (1.0, 2.0)}, "2 times but 0 temperatures"),
        ({"times": (2.0, 1.0), "temperatures": (300.0, 300.0)}, "do not rise"),
        ({"times": (1.0,), "temperatures": (22.0,)}, "outside -23 to 327 C"),
        ({"mass": 100.0}, "outside 1 g to 5 kg"),
    ],
)
def test_an_odd_cup_test_is_refused_in_one_sentence(changes, sentence):
    test = CupTest(mass=0.1, temperature=296.15, air_temperature=296.15, gel=160.0)
    with pytest.raises(ResinError, match="cup test 1: ") as fault:
        fit_cups(load_resin("museum-gradual"), (replace(test, **changes),))
    assert sentence in str(fault.value)


@pytest.mark.parametrize(
    "text",
    [
        "time_min,temperature_C\n0,22\n1.5,30.5\n",
        "time_min;temperature_F\n0;71,6\n1,5;86,9\n",
        "\ufeffnote,temperature_C,time_s\nx,22,0\ny,30.5,90\n",
    ],
)
def test_a_csv_is_read_with_its_units(tmp_path, text):
    path = tmp_path / "cup.csv"
    path.write_text(text, "utf-8")
    times, temperatures = read_cup_temperatures(path)
    assert times == pytest.approx((0.0, 90.0))
    assert temperatures == pytest.approx((295.15, 303.65))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "is empty"),
        ("t,T\n1,2\n", "first line must name"),
        ("time_s,temperature_C\n1,hot\n", "reading 2 is not two numbers"),
        ("time_s,temperature_C\n1,nan\n", "reading 2 is not finite"),
        ("time_s,temperature_C\n1\n", "reading 2 is not two numbers"),
    ],
)
def test_a_broken_csv_is_refused_in_one_sentence(tmp_path, text, sentence):
    path = tmp_path / "cup.csv"
    path.write_text(text, "utf-8")
    with pytest.raises(ResinError, match=sentence):
        read_cup_temperatures(path)
