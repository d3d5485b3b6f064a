"""The desk keeps every window and the folder in step, and loses nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from evenwall.errors import JobError
from evenwall.files.job_file import NAME, read_job_file
from evenwall.web.desk import Desk, Shop, key_of, value_at


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    job = tmp_path / "Ammonit 菊石"
    job.mkdir()
    (job / NAME).write_text(
        '# kept\nname = "ammonite"\n\n[wall]\ntarget_wall_mm = 3.0  # usual\n', encoding="utf-8"
    )
    return job


def test_an_answer_is_written_at_once_and_comments_stay(folder: Path) -> None:
    desk = Desk(folder)
    desk.edit({"wall.target_wall_mm": 2.5, "shop.air_C": 18.0})
    assert read_job_file(folder).wall.target_wall_mm == 2.5
    assert value_at(desk.file, "shop.air_C") == (18.0, True)
    assert "# kept" in (folder / NAME).read_text(encoding="utf-8")


def test_a_refused_answer_changes_nothing(folder: Path) -> None:
    desk = Desk(folder)
    before = (folder / NAME).read_bytes()
    with pytest.raises(ValidationError):
        desk.edit({"wall.target_wall_mm": -1.0})
    assert (folder / NAME).read_bytes() == before
    assert not desk.past


def test_emptied_answers_fall_back_to_the_default(folder: Path) -> None:
    desk = Desk(folder)
    desk.edit({"wall.target_wall_mm": 2.0})
    desk.edit({"wall.target_wall_mm": None})
    assert value_at(desk.file, "wall.target_wall_mm") == (3.0, False)


def test_undo_and_redo_survive_a_restart(folder: Path) -> None:
    desk = Desk(folder)
    texts = [desk.text]
    for wall in (2.0, 2.5, 4.0):
        desk.edit({"wall.target_wall_mm": wall})
        texts.append(desk.text)
    assert Desk(folder).undo()
    desk = Desk(folder)
    assert desk.text == texts[2]
    assert desk.undo()
    assert desk.undo()
    assert not desk.undo()
    assert desk.text == texts[0]
    while desk.redo():
        pass
    assert desk.text == texts[3]


def test_a_new_answer_after_undo_ends_redo(folder: Path) -> None:
    desk = Desk(folder)
    desk.edit({"wall.target_wall_mm": 2.0})
    desk.undo()
    desk.edit({"wall.target_wall_mm": 5.0})
    assert not desk.redo()


def test_what_another_program_writes_is_seen_told_and_undone(folder: Path) -> None:
    desk = Desk(folder)
    told: list[float] = []
    desk.windows.append(lambda: told.append(desk.file.wall.target_wall_mm))
    assert not desk.look()
    (folder / NAME).write_text("[wall]\ntarget_wall_mm = 4.25\n", encoding="utf-8")
    assert desk.look()
    assert told == [4.25]
    desk.undo()
    assert read_job_file(folder).wall.target_wall_mm == 3.0


def test_a_broken_file_is_said_and_the_last_good_job_stays(folder: Path) -> None:
    desk = Desk(folder)
    (folder / NAME).write_text("[wall\n", encoding="utf-8")
    assert desk.look()
    assert "TOML" in desk.fault
    assert desk.file.wall.target_wall_mm == 3.0


def test_shop_remembers_folders_newest_first_and_forgets_gone_ones(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / NAME).write_text('name = "other"\n', encoding="utf-8")
    memory = tmp_path / "state" / "recent.json"
    shop = Shop(memory=memory)
    shop.open(folder)
    shop.open(other)
    again = Shop(memory=memory)
    assert again.recent() == [other.resolve(), folder.resolve()]
    (other / NAME).unlink()
    assert again.recent() == [folder.resolve()]
    assert again.desk(key_of(folder.resolve())) is not None
    assert again.desk("../../etc") is None


def test_a_folder_without_a_job_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"job\.toml"):
        Shop(memory=tmp_path / "recent.json").open(tmp_path)
