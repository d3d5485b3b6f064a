"""Readings of job.toml become a piece that plan and forecast take."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from evenwall.cli import app
from evenwall.errors import JobError
from evenwall.files.estimate_file import estimate_of, estimated_piece
from evenwall.files.job_file import check_job, write_job_file
from evenwall.files.job_schema import JobFile
from evenwall.files.open_job import open_job
from evenwall.geometry.solid import measures

HOLLOW = {"way": "hollow casting", "weight_g": 150, "density_g_mL": 1.05, "wall_mm": [2.5, 3.0, 3.6]}
SOLID = {"way": "solid casting", "weight_g": 420, "density_g_mL": 1.05}


def _job(*readings: dict[str, Any]) -> JobFile:
    return check_job({"piece": {"readings": list(readings)}})


def test_one_earlier_casting_opens_as_a_stand_in(tmp_path: Path) -> None:
    write_job_file(tmp_path, _job(HOLLOW))
    opened = open_job(tmp_path)
    piece = opened.job.piece
    assert opened.reading is None
    assert piece.stand_in
    assert piece.area_band[0] < measures(piece.surface).area < piece.area_band[1]
    assert piece.volume_band[0] < measures(piece.surface).volume < piece.volume_band[1]


def test_a_second_reading_narrows_the_band() -> None:
    alone, both = estimated_piece(_job(HOLLOW)), estimated_piece(_job(HOLLOW, SOLID))
    assert both.volume_band[1] - both.volume_band[0] < alone.volume_band[1] - alone.volume_band[0]
    assert measures(both.surface).volume == pytest.approx(4e-4, rel=1e-6)


@pytest.mark.parametrize(
    "reading",
    [
        {"way": "shots", "weight_g": 45, "density_g_mL": 1.05, "shots": 3},
        {"way": "dunked", "volume_mL": 410},
        {"way": "tape", "heights_mm": [0, 40, 80, 120], "girths_mm": [150, 260, 240, 0]},
        {"way": "box", "size_mm": [120, 80, 60], "shape": "flat"},
    ],
)
def test_each_way_alone_gives_a_size(reading: dict[str, Any]) -> None:
    found = estimate_of(_job(reading))
    assert 1e-4 < found.volume.value < 1e-3
    assert 0.02 < found.area.value < 0.08


def test_a_missing_key_is_named() -> None:
    with pytest.raises(JobError, match=r"readings 2 \(solid casting\): density_g_mL is missing"):
        estimate_of(_job(HOLLOW, {"way": "solid casting", "weight_g": 420}))


def test_the_command_says_bands_shares_and_warns_of_water(tmp_path: Path) -> None:
    write_job_file(tmp_path, _job(HOLLOW, SOLID))
    said = CliRunner().invoke(app, ["estimate", str(tmp_path)])
    assert said.exit_code == 0
    assert "likely" in said.output
    assert "solid casting: counts 0 % for the area, 100 % for the volume" in said.output
    assert "water" in said.output
    answer = json.loads(CliRunner().invoke(app, ["estimate", str(tmp_path), "--json"]).output)
    assert answer["volume_band_m3"][0] < answer["volume_m3"] < answer["volume_band_m3"][1]
    assert [reading["way"] for reading in answer["readings"]] == ["hollow casting", "solid casting"]


def test_the_example_of_the_docs_opens(tmp_path: Path) -> None:
    guide = Path(__file__).parents[2] / "docs" / "how-to" / "no-scan.md"
    example = guide.read_text(encoding="utf-8").split("```toml\n")[1].split("```")[0]
    (tmp_path / "job.toml").write_text(f"format = 1\n{example}", encoding="utf-8")
    assert open_job(tmp_path).job.piece.stand_in
