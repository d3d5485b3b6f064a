"""The command line: what it prints, its error line and its exit codes."""

import json
import sys

import pytest
import trimesh

from evenwall import cli
from evenwall.files.job_file import read_job_file


@pytest.fixture
def run(monkeypatch, capsys):
    """Run the command line in this process: exit code, stdout, stderr."""

    def command(*words):
        monkeypatch.setattr(sys, "argv", ["evenwall", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        said = capsys.readouterr()
        return left.value.code or 0, said.out, said.err

    return command


@pytest.fixture
def cube(tmp_path):
    path = tmp_path / "cube.stl"
    trimesh.creation.box(extents=(60.0, 60.0, 60.0)).export(path)
    return path


@pytest.fixture
def job(run, cube, tmp_path):
    folder = tmp_path / "a job"
    assert run("new", folder, "--mesh", cube, "--unit", "mm", "--name", "Würfel 立方")[0] == 0
    return folder


def test_new_makes_a_job_that_can_be_read(job):
    made = read_job_file(job)
    assert (made.name, made.piece.mesh, made.piece.unit) == ("Würfel 立方", "cube.stl", "mm")
    assert sorted(path.name for path in job.iterdir()) == ["cube.stl", "job.toml"]


def test_nothing_is_overwritten_unasked(run, job):
    before = (job / "job.toml").read_bytes()
    code, out, err = run("new", job)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "is not empty" in err
    assert (job / "job.toml").read_bytes() == before


def test_a_mesh_that_is_not_there_leaves_no_folder(run, tmp_path):
    code, _, err = run("new", tmp_path / "job", "--mesh", tmp_path / "none.stl")
    assert code == 2
    assert "none.stl is not a file" in err
    assert not (tmp_path / "job").exists()


@pytest.mark.parametrize("words", [("plan",), ("balance",), ("sheet",), ("forecast", "--fineness", "quick")])
def test_a_folder_without_a_job_is_one_line_and_exit_code_2(run, tmp_path, words):
    code, out, err = run(*words, tmp_path)
    assert (code, out) == (2, "")
    assert err.startswith("evenwall: ")
    assert err.count("\n") == 1
    assert "has no job.toml" in err


@pytest.mark.parametrize("words", [("nonsense",), ("plan",), ("measure", "x.stl", "--furlongs", "3")])
def test_a_command_that_is_none_is_exit_code_2(run, words):
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert err.startswith("evenwall: ")
    assert err.count("\n") == 1


def test_no_words_show_the_commands(run):
    code, out, _ = run()
    assert code == 0
    for command in ("new", "demo", "measure", "plan", "forecast", "balance", "sheet", "proof", "app"):
        assert command in out


def test_balance_says_its_contracted_keys(run, job):
    code, out, err = run("balance", job, "--json")
    assert (code, err) == (0, "")
    said = json.loads(out)
    assert set(said["frame_axis_torque_N_m"]) == set(said["cradle_axis_torque_N_m"]) == {"before", "after"}
    for piece in said["counterweights"]:
        assert {"name", "mass_kg", "at_m"} <= set(piece)
        assert len(piece["at_m"]) == 3
    assert said["rim_force_N"] >= 0.0
    assert said["clearance_m"] > 0.0
    assert said["cautions"]
    assert said["assumed"]
    assert {line["known"] for line in said["bill"]} <= {"weighed", "computed", "typical"}
    total = sum(line["mass_kg"] for line in said["bill"])
    hung = sum(piece["mass_kg"] for piece in said["counterweights"])
    assert said["turning_mass_kg"] > total + hung - 1e-9


def test_balance_in_words(run, job):
    code, out, _ = run("balance", job)
    assert code == 0
    assert out.startswith("Sit the mold")
    assert "N at the rim" in out


def test_balance_names_a_wrong_size(run, job):
    path = job / "job.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + "\n[mold]\nouter_mm = [50, 90, 90]\n", encoding="utf-8"
    )
    code, _, err = run("balance", job)
    assert code == 2
    assert "50 mm along x but the piece alone is 60.0 mm" in err


def test_measure_as_json_is_si(run, cube):
    code, out, _ = run("measure", cube, "--unit", "mm", "--json")
    assert code == 0
    said = json.loads(out)
    assert said["volume_m3"] == pytest.approx(0.06**3)
    assert said["area_m2"] == pytest.approx(6 * 0.06**2)


def test_measure_takes_a_distance_a_shrinkage_and_answers(run, cube):
    code, out, _ = run(
        "measure", cube, "--between", "-30 -30 -30 30 -30 -30", "--distance-mm", "120", "--scan-of", "casting",
        "--resin-shrink", "1", "--json",
    )  # fmt: skip
    assert code == 0
    answer = json.loads(out)
    assert answer["unit_from"] == "distance"
    assert answer["extents_m"] == pytest.approx([0.12 / 0.99] * 3)
    for words, said in (
        (("--between", "1 2 3", "--distance-mm", "5"), "six numbers"),
        (("--distance-mm", "5"), "--between"),
        (("--unit", "mm", "--scan-of", "shadow"), "shadow"),
        (("--unit", "mm", "--answer", "bodies"), "bodies=all"),
        (("--unit", "mm", "--refuse", "nonsense"), "nonsense"),
    ):
        code, out, err = run("measure", cube, *words)
        assert (code, out) == (2, "")
        assert said in err


def test_measure_builds_the_wall_anew_when_asked(run, cube):
    code, out, _ = run("measure", cube, "--unit", "mm", "--rebuild", "--json")
    answer = json.loads(out)
    assert code == 0
    assert answer["rebuilt"]["why"] == "it was asked for"
    assert answer["volume_m3"] == pytest.approx(216e-6, rel=5e-3)


def test_the_resin_is_corrected_tested_and_explained(run, tmp_path):
    folder, picture = tmp_path / "job", tmp_path / "cure.png"
    assert run("new", folder)[0] == 0
    code, out, err = run(
        "resin", folder, "--new", "our white", "--set", "mix_by_weight=100:90", "--set", "pot_life_min=2.5",
        "--source", "label", "--pedigree", "measured", "--picture", picture, "--json",
    )  # fmt: skip
    assert code == 0
    assert "our-white.toml" in err
    told = json.loads(out)
    assert told["values"]["pot_life"] == {
        "number": 150.0, "low": 150.0, "high": 150.0, "pedigree": "measured", "source": "label",
    }  # fmt: skip
    assert told["calibration"][0]["fixes"] == "rate factor"
    band = told["sure"]["coats"][0]["gel_film_s"]
    assert 0.0 < band["low"] < band["middle"] < band["high"]
    assert "is assumed" in told["sure"]["look_up"]
    assert any("D2471" in warning for warning in told["warnings"])
    assert picture.read_bytes().startswith(b"\x89PNG")
    code, out, _ = run("resin", folder)
    assert code == 0
    assert "what fixed what" in out
    code, out, err = run("resin", folder, "--set", "pot_life_min=")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "pot life is missing" in err


def test_one_earlier_casting_is_enough_for_a_job(run, tmp_path):
    folder = tmp_path / "bust"
    casting = "hollow casting: weight_g=150 density_g_mL=1.05 wall_mm=2.5,3.0,3.6"
    assert run("new", folder, "--reading", casting)[0] == 0
    code, out, _ = run("estimate", folder, "--json")
    assert code == 0
    answer = json.loads(out)
    low, high = answer["area_band_m2"]
    assert low < 0.150 / 1050.0 / 3.03e-3 < high
    assert any("water" in line for line in answer["warnings"])
    for text, said in (
        ("guess: 3", "no way"),
        ("dunked: 3", "no ="),
        ("dunked: volume_mL=much", "volume_mL"),
    ):
        code, _, err = run("new", tmp_path / "other", "--reading", text)
        assert code == 2
        assert said in err
