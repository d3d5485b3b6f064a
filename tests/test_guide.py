"""docs/first-casting.md: what it tells a maker to type works in the order it is told."""

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evenwall.cli import app
from evenwall.files.open_job import open_job

PAGE = (Path(__file__).parent.parent / "docs" / "first-casting.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(sh|toml)\n(.*?)```", PAGE, flags=re.DOTALL)
COMMANDS = [text.strip() for kind, text in BLOCKS if kind == "sh"]


def test_every_command_of_the_page_is_one():
    names = {command.name or command.callback.__name__ for command in app.registered_commands}
    assert {shlex.split(command)[1] for command in COMMANDS} <= names


def test_the_page_goes_in_order_to_a_job_that_can_be_planned(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    run = CliRunner()
    for kind, text in BLOCKS:
        if kind == "toml":
            with (tmp_path / "ammonite" / "job.toml").open("a", encoding="utf-8") as file:
                file.write(text)
        elif shlex.split(text)[1] in ("new", "estimate", "balance"):
            answer = run.invoke(app, shlex.split(text)[1:])
            assert answer.exit_code == 0, answer.output
    opened = open_job(tmp_path / "ammonite")
    least, most = opened.job.piece.area_band
    assert opened.job.shop.air == pytest.approx(294.15)
    assert (
        least < 0.150 / 1050 / 3.03e-3 < most
    )  # a plain wall of the casting's weight and mean thickness [m2]


def test_its_links_lead_somewhere():
    docs = Path(__file__).parent.parent / "docs"
    links = re.findall(r"\]\(([\w/.-]+\.md)\)", PAGE)
    assert links
    assert not [link for link in links if not (docs / link).is_file()]
