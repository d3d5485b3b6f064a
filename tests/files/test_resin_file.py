"""Resin files: workshop units in, SI out; pedigrees kept; faults told in one sentence."""

import pytest

from evenwall.errors import ResinError
from evenwall.files.resin_file import DEMO_RESINS, load_calibration, load_sheet, sheet_from
from evenwall.sheet_units import keys

PLAIN = 'format = 1\nname = "mine"\nmix_by_weight = [100, 90]\npot_life_min = 3\n'


def written(tmp_path, text):
    path = tmp_path / "mine.toml"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.parametrize("name", DEMO_RESINS)
def test_the_demo_resins_are_typical_throughout(name):
    sheet = load_sheet(name)
    assert {value.pedigree for _, value in sheet.values()} <= {"typical", "assumed"}
    found = load_calibration(name)
    assert max(abs(row.residual) for row in found.rows if row.fixes) < 5e-3


def test_units_are_read_from_the_keys(tmp_path):
    text = PLAIN + (
        "pot_life_mass_oz = 4\npot_life_temperature_F = 77\nviscosity_cP = 120\ndensity_a_g_mL = 1.2\n"
        "demold_thickness_in = 0.5\ntensile_strength_psi = 3000\nprice_per_lb = 9.0\nshelf_life_opened_days = 30\n"
    )
    sheet = load_sheet(written(tmp_path, text))
    assert sheet.ratio.number == pytest.approx(0.9)
    assert sheet.pot_life.number == 180.0
    assert sheet.pot_life_mass.number == pytest.approx(0.1133981)
    assert sheet.pot_life_temperature.number == pytest.approx(298.15)
    assert sheet.viscosity.number == pytest.approx(0.12)
    assert sheet.demold_thickness.number == pytest.approx(0.0127)
    assert sheet.tensile_strength.number == pytest.approx(20.684e6, rel=1e-4)
    assert sheet.price.number == pytest.approx(9.0 / 0.45359237)
    assert sheet.shelf_life_opened.number == 30 * 86400


def test_a_value_may_bring_its_own_pedigree_and_band(tmp_path):
    text = PLAIN.replace(
        "pot_life_min = 3",
        'pot_life_min = { value = 3, low = 2.5, high = 4, source = "my cup", pedigree = "measured" }',
    )
    value = load_sheet(written(tmp_path, text)).pot_life
    assert (value.pedigree, value.source, value.band) == ("measured", "my cup", (150.0, 240.0))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (("pot_life_min = 3", "pot_life = 3"), "key 'pot_life' is not known"),
        (("pot_life_min = 3", 'pot_life_min = "three"'), "not a number"),
        (("pot_life_min = 3", "pot_life_min = true"), "not a number"),
        (("pot_life_min = 3", "pot_life_min = nan"), "not a number"),
        (("pot_life_min = 3", "pot_life_min = 3\npot_life_s = 180"), "is given twice"),
        (("pot_life_min = 3", "pot_life_min = { value = 3, low = 4 }"), "between its low and high"),
        (("pot_life_min = 3", "pot_life_min = { about = 3 }"), "must be a number or"),
        (("[100, 90]", "[100]"), "parts of A, parts of B"),
        (("[100, 90]", "[100, -90]"), "both above 0"),
        (("[100, 90]", '"1:1"'), "not a list"),
        (("format = 1", "format = 7"), "format 7 is not 1"),
        (("format = 1", 'pedigree = "rumour"'), "is not one of measured, data sheet"),
        (("format = 1", "format = ["), "mend that line"),
    ],
)
def test_a_faulty_file_is_told_in_one_sentence(tmp_path, change, sentence):
    with pytest.raises(ResinError) as fault:
        load_sheet(written(tmp_path, PLAIN.replace(*change)))
    assert sentence in str(fault.value)
    assert "\n" not in str(fault.value)


def test_an_unknown_name_is_told_with_the_known_ones():
    with pytest.raises(ResinError, match="museum-gradual"):
        load_sheet("no-such-resin")


def test_every_key_can_be_given_once():
    known = list(keys())
    assert len(known) == len(set(known)) > 60
    for key in known:
        sheet_from({"name": "one", key: 30.0})
