"""Sheet values come back out of the calibrated resin; impossible sheets are refused in one sentence."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenwall.errors import ResinError
from evenwall.files.resin_file import load_sheet
from evenwall.resin.calibrate import calibrate, calibration
from evenwall.resin.data import DataSheet, Value
from evenwall.resin.history import time_of_conversion
from evenwall.resin.sheet_cups import setting_seconds, sheet_cup
from evenwall.resin.spread import most_wanted, spread
from evenwall.resin.typical import TYPICAL, mixed_density, ratio_by_volume, ratio_by_weight


def value(number: float, **more) -> Value:
    return Value(number=number, source="a made-up sheet", pedigree="data sheet", **more)


def sheet(**changes: float) -> DataSheet:
    plain = {"ratio": 1.0, "pot_life": 180.0} | changes
    return DataSheet(name="a resin", **{name: value(number) for name, number in plain.items()})


@settings(max_examples=25, deadline=None)
@given(st.floats(60.0, 3000.0), st.floats(0.02, 1.0), st.floats(0.05, 1.0), st.floats(288.0, 303.0))
def test_the_pot_life_comes_out_at_the_sheets_mass_and_temperature(life, mass, thin, warm):
    found = calibration(sheet(pot_life=life, pot_life_mass=mass, viscosity=thin, pot_life_temperature=warm))
    assert found.rows[0].fixes == "rate factor"
    assert abs(found.rows[0].residual) < 1e-3


def test_every_value_that_fixes_a_constant_comes_out():
    found = calibration(
        sheet(
            pot_life=150.0,
            gel_time=180.0,
            second_pot_life=95.0,
            second_pot_life_temperature=303.15,
            peak_exotherm=373.15,
        )
    )
    assert [row.fixes for row in found.rows] == [
        "rate factor",
        "viscosity exponent",
        "activation",
        "reaction heat",
    ]
    assert max(abs(row.residual) for row in found.rows) < 2e-3
    assert not {"reaction_heat", "exponent_a", "cure_activation"} & set(found.assumed)


def test_more_values_than_constants_leave_residuals():
    found = calibration(sheet(pot_life=150.0, gel_time=180.0, setting_time=5.0))
    compared = {row.name: row for row in found.rows if not row.fixes}
    assert set(compared) == {"setting_time"}
    assert abs(compared["setting_time"].residual) > 0.5


def test_the_two_demo_resins_set_as_their_names_say():
    gradual, sudden = (calibrate(load_sheet(name)) for name in ("museum-gradual", "museum-sudden"))
    assert setting_seconds(gradual, sheet_cup(gradual)) == pytest.approx(30.0, rel=0.01)
    assert setting_seconds(sudden, sheet_cup(sudden)) == pytest.approx(4.0, rel=0.05)


@settings(max_examples=25, deadline=None)
@given(st.floats(283.0, 308.0), st.floats(0.5, 10.0), st.floats(0.02, 0.5), st.floats(1.05, 3.0))
def test_hotter_never_gels_later_and_a_bigger_cup_never_gels_later(warm, more, mass, larger):
    resin = calibrate(load_sheet("museum-gradual"))

    def gel(temperature: float, grams: float) -> float:
        return time_of_conversion(sheet_cup(resin, temperature=temperature, mass=grams), resin.cure.gel)

    assert gel(warm + more, mass) <= gel(warm, mass) + 1e-6
    assert gel(warm, mass * larger) <= gel(warm, mass) + 1e-6


@given(st.floats(0.05, 20.0), st.floats(800.0, 1500.0), st.floats(800.0, 1500.0))
def test_ratio_by_weight_and_by_volume_round_trip(ratio, a, b):
    assert ratio_by_weight(ratio_by_volume(ratio, a, b), a, b) == pytest.approx(ratio, rel=1e-12)
    low, high = sorted((a, b))
    assert low * (1 - 1e-12) <= mixed_density(ratio, a, b) <= high * (1 + 1e-12)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"pot_life": -3.0}, "pot life of -0.05 is outside"),
        ({"pot_life": 5.0}, "outside 0.3333 to 240 min"),
        ({"pot_life": 1e6}, "pot life"),
        ({"ratio": 0.0}, "ratio of 0 is outside"),
        ({"ratio": float("nan")}, "ratio is not a number"),
        (
            {"ratio": 1.0, "ratio_by_volume": 1.0, "density_a": 1200.0, "density_b": 1000.0},
            "disagree by 16.7 %",
        ),
        ({"gel_time": 100.0}, "pot life of 3 min is not before gel time of 1.67 min"),
        ({"viscosity": 4.0}, "about as thick as the 3 Pa s"),
        ({"second_pot_life": 100.0}, "has no temperature"),
        ({"second_pot_life": 300.0, "second_pot_life_temperature": 308.0}, "which belongs to which"),
        ({"peak_exotherm": 290.0}, "peak exotherm"),
        ({"density_a": 1200.0, "density_b": 1000.0, "density": 1400.0}, "can't come from"),
        ({"pot_life_temperature": 350.0}, "outside -10 to 60 C"),
    ],
)
def test_an_impossible_sheet_is_refused_in_one_sentence(changes, sentence):
    with pytest.raises(ResinError) as fault:
        calibration(sheet(**changes))
    assert sentence in str(fault.value)
    assert str(fault.value).startswith("a resin: ")
    assert "\n" not in str(fault.value)


def test_values_that_do_not_go_together_are_told_and_the_pot_life_still_holds():
    found = calibration(sheet(pot_life=150.0, gel_time=600.0))
    gel = next(row for row in found.rows if row.name == "gel_time")
    assert abs(gel.residual) > 0.1
    assert any("gel time can't be met" in warning for warning in found.warnings)
    assert abs(found.rows[0].residual) < 1e-3


def test_a_mix_that_is_too_thick_at_its_pot_lifes_temperature_is_refused():
    thick = sheet(viscosity=2.2, pot_life_temperature=283.15)
    with pytest.raises(ResinError, match="at 10 C the fresh mix is already as thick"):
        calibrate(thick)


def test_two_and_nine_tenths_percent_of_disagreement_are_let_pass():
    calibration(sheet(ratio=1.0, ratio_by_volume=1.2 * 1.029, density_a=1200.0, density_b=1000.0))


@pytest.mark.parametrize("missing", ["ratio", "pot_life"])
def test_ratio_and_pot_life_are_never_made_up(missing):
    bare = replace(sheet(), **{missing: None})
    with pytest.raises(ResinError, match="is missing"):
        calibrate(bare)


def test_what_the_sheet_leaves_out_is_typical_and_listed():
    found = calibration(sheet())
    assert {"demold", "heat_capacity", "cure_activation", "density_a", "density_b"} <= set(found.assumed)
    for name, typical in TYPICAL.items():
        assert typical.source, name
        assert typical.pedigree in ("typical", "assumed"), name
        assert typical.band[0] <= typical.number <= typical.band[1], name


def test_a_known_second_temperature_narrows_the_band_and_changes_what_to_look_up():
    def gel_when_cold(resin):
        return (time_of_conversion(sheet_cup(resin, temperature=285.15), resin.cure.gel),)

    def told_to(share: float) -> DataSheet:
        two = sheet(second_pot_life=120.0, second_pot_life_temperature=303.15)
        pairs = {"pot_life": 180.0, "second_pot_life": 120.0}
        known = {n: value(x, low=(1 - share) * x, high=(1 + share) * x) for n, x in pairs.items()}
        return replace(two, **known)

    bare = spread(calibrate(sheet()), gel_when_cold)
    told = spread(calibrate(told_to(0.02)), gel_when_cold)
    vague = spread(
        calibrate(told_to(0.15)), gel_when_cold
    )  # two vague pot lives tell little of the temperature
    assert vague.bands[0].high - vague.bands[0].low > 1.5 * (told.bands[0].high - told.bands[0].low)
    assert bare.bands[0].high - bare.bands[0].low > 1.5 * (told.bands[0].high - told.bands[0].low)
    assert most_wanted(bare).name == "cure_activation"
    assert most_wanted(told).name != "cure_activation"
