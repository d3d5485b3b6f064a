"""Only what nobody said and what changes the answer is worth saying."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenwall.files.job_file import read_job_file
from evenwall.web.amounts import amount
from evenwall.web.desk import edited
from evenwall.web.unsaid import GUESSES, MATTERS, Unsaid, unsaid
from evenwall.web.work import read

JOB = """
[piece]
readings = [{ way = "hollow casting", weight_g = 140.0, density_g_mL = 1.05, wall_mm = [2.8, 3.1, 2.4] }]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A mold with one earlier casting's weight, its piece estimated."""
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    read(tmp_path)
    return tmp_path


def asked(folder: Path, **said: float) -> list[Unsaid]:
    file = edited(read_job_file(folder), {key.replace("__", "."): value for key, value in said.items()})
    return unsaid(folder, file, lambda value, unit: amount(value, unit, "metric"))


def test_the_weightiest_comes_first_and_nothing_that_hardly_matters(folder: Path) -> None:
    found = asked(folder)
    moves = [one.moves for one in found]
    assert moves == sorted(moves, reverse=True)
    assert min(moves) > MATTERS
    assert all(" to " in one.sentence or "end the plan" in one.sentence for one in found)


def test_what_is_said_is_not_asked_again(folder: Path) -> None:
    assert "shop.resin_C" in [one.guess.key for one in asked(folder)]
    assert "shop.resin_C" not in [one.guess.key for one in asked(folder, shop__resin_C=21.0)]


def test_every_guess_is_a_key_of_its_view() -> None:
    from evenwall.web.asks import description

    assert all(description(guess.key) for guess in GUESSES)
