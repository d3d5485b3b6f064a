"""A data sheet typed, corrected and tested in the job's folder: what is not meant stays, faults write nothing."""

import tomllib

import pytest

from evenwall.errors import ResinError
from evenwall.files.job_file import read_job_file, write_job_file
from evenwall.files.job_schema import JobFile
from evenwall.files.resin_edit import Change, blank, changed, checked, typed, with_cup_test, without_cup_test
from evenwall.files.resin_file import load_calibration, load_sheet, sheet_from
from evenwall.files.resin_job import Asked, cup_test_of, done, resin_seen
from evenwall.files.resin_shelf import keep_on_shelf, resin_path, resins_at_hand, shelf
from evenwall.resin.data import CupTest
from evenwall.sheet_units import from_sheet_si, keys, to_sheet_si

SHEET = """# our white
format = 1
name = "white"
mix_by_weight = [100, 90]  # off the label
pot_life_min = 3
"""
TEST = CupTest(mass=0.005, temperature=295.15, air_temperature=294.15, gel=390.0, diameter=0.06, note="June")


def sheet(text):
    return sheet_from(tomllib.loads(text))


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "shop" / "job"
    made.mkdir(parents=True)
    write_job_file(made, JobFile(name="a job"))
    return made


def test_comments_stay_and_a_value_brings_its_origin():
    text = changed(SHEET, [typed("pot_life_min=2.5(2.2..2.8)", source="my cup", pedigree="measured")])
    assert "# our white" in text
    assert "# off the label" in text
    life = sheet(text).pot_life
    assert (life.number, life.low, life.high) == (150.0, 132.0, 168.0)
    assert (life.source, life.pedigree) == ("my cup", "measured")


def test_a_value_in_another_unit_takes_the_place_of_the_first():
    text = changed(SHEET, [typed("pot_life_s=140")])
    assert "pot_life_min" not in text
    assert sheet(text).pot_life.number == 140.0


def test_a_value_is_forgotten():
    text = changed(SHEET, [typed("viscosity_cP=120")])
    assert sheet(text).viscosity.number == pytest.approx(0.12)
    assert sheet(changed(text, [typed("viscosity_cP=")])).viscosity is None
    assert sheet(changed(text, [Change(key="viscosity_mPa_s", value=None)])).viscosity is None


def test_a_ratio_may_have_an_origin_of_its_own():
    found = sheet(changed(SHEET, [typed("mix_by_volume=100:98,5", source="label", pedigree="measured")]))
    assert found.ratio_by_volume.number == pytest.approx(0.985)
    assert (found.ratio_by_volume.source, found.ratio.source) == ("label", "data sheet")


@pytest.mark.parametrize("key", keys())
def test_every_unit_comes_back(key):
    unit = keys()[key][1]
    assert from_sheet_si(to_sheet_si(37.5, unit), unit) == pytest.approx(37.5)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("furlongs=3", "key 'furlongs' is not known"),
        ("pot_life_min", "sets nothing"),
        ("pot_life_min=quick", "is not a number"),
        ("mix_by_weight=1", "must be [parts of A, parts of B]"),
    ],
)
def test_an_odd_value_is_refused_in_one_sentence(text, said):
    with pytest.raises(ResinError) as fault:
        checked(changed(SHEET, [typed(text)]), "white")
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)


def test_a_cup_test_is_kept_with_the_sheet_and_taken_out_again():
    text = with_cup_test(with_cup_test(SHEET, TEST), TEST)
    first, second = sheet(text).cup_tests
    assert first == second
    assert first.gel == pytest.approx(TEST.gel)
    assert (first.mass, first.diameter, first.note) == (0.005, 0.06, "June")
    assert first.temperature == pytest.approx(TEST.temperature)
    assert sheet(without_cup_test(without_cup_test(text, 2), 1)).cup_tests == ()
    with pytest.raises(ResinError, match="cup test 3 is not one of the 2"):
        without_cup_test(text, 3)


def test_an_unknown_key_of_a_cup_test_is_named():
    with pytest.raises(ResinError, match=r"cup test 1 has the keys mass_g, .*not grams"):
        sheet(SHEET + "[[cup_tests]]\ngrams = 5\n")


def test_a_correction_of_evenwalls_resin_becomes_the_jobs_own(folder):
    done(folder, Asked(put=("pot_life_min=2.6",), source="my cup", pedigree="measured"))
    assert read_job_file(folder).resin.name == "museum-gradual.toml"
    own = load_sheet(folder / "museum-gradual.toml")
    assert own.pot_life.pedigree == "measured"
    assert own.density_a == load_sheet("museum-gradual").density_a


def test_a_new_sheet_a_cup_test_with_readings_and_the_shelf(folder, tmp_path):
    (tmp_path / "cup.csv").write_text("time_min,temperature_C\n0,22\n2,38\n3,66\n5,84\n", "utf-8")
    done(folder, Asked(new="Our White", put=("pot_life_min=2.5", "mix_by_weight=100:100")))
    bare = load_calibration(folder / "our-white.toml")
    assert "viscosity" in bare.assumed
    done(
        folder,
        Asked(
            cup=cup_test_of(("mass_g=100", "temperature_C=22", "gel_min=3.1"), readings=tmp_path / "cup.csv"),
            shelf=True,
        ),
    )
    assert len(load_sheet(shelf(folder) / "our-white.toml").cup_tests[0].times) == 4
    seen = resin_seen(folder)
    assert seen.found.cups is not None
    (before,), (after,) = seen.found.cups.gel_before, seen.found.cups.gel_after
    assert abs(after - 186.0) < abs(before - 186.0)
    done(folder, Asked(forget_cup=1))
    assert load_sheet(folder / "our-white.toml").cup_tests == ()


def test_another_job_of_the_shop_takes_it_from_the_shelf(folder):
    done(folder, Asked(new="Our White", put=("pot_life_min=2.5", "mix_by_weight=100:100"), shelf=True))
    other = folder.parent / "another job"
    other.mkdir()
    write_job_file(other, JobFile(name="another"))
    assert "our-white.toml" in resins_at_hand(other)
    done(other, Asked(use="our-white.toml"))
    assert resin_path(other, "our-white.toml") == shelf(folder) / "our-white.toml"
    done(other, Asked(put=("pot_life_min=3",)))  # the job's copy; the shelf's stays
    assert load_sheet(other / "our-white.toml").pot_life.number == 180.0
    assert load_sheet(shelf(folder) / "our-white.toml").pot_life.number == 150.0


@pytest.mark.parametrize(
    "asked",
    [
        Asked(put=("pot_life_min=",)),
        Asked(use="nobody.toml"),
        Asked(put=("pot_life_min=2",), pedigree="hearsay"),
        Asked(cup=CupTest(mass=0.005, temperature=295.15, air_temperature=295.15)),
        Asked(shelf=True),
    ],
)
def test_a_refusal_writes_nothing(folder, asked):
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".toml"}
    with pytest.raises(ResinError):
        done(folder, asked)
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".toml"} == before


def test_no_name_leads_out_of_the_folders(folder):
    (folder.parent / "elsewhere.toml").write_text(SHEET, "utf-8")
    with pytest.raises(Exception, match="is no file of the job folder"):
        resin_path(folder, "../elsewhere.toml")
    with pytest.raises(ResinError, match="always at hand"):
        keep_on_shelf(folder, "museum-sudden")


def test_an_empty_sheet_says_what_it_needs():
    with pytest.raises(ResinError, match="the pot life is missing"):
        checked(blank("Our White"), "our-white.toml")


def test_a_cup_test_on_the_command_line_needs_its_mass_and_warmth():
    assert cup_test_of(()) is None
    with pytest.raises(ResinError, match="needs mass_g and temperature_C"):
        cup_test_of(("mass_g=5",))
    with pytest.raises(ResinError, match="is not key=value"):
        cup_test_of(("grams=5",))
