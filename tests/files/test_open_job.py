"""An open scan in a job: its opening's place reaches the film, from the files as from the app's account."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from evenwall.files.open_job import open_job
from evenwall.files.results import fingerprint
from evenwall.geometry.surface import face_areas
from evenwall.plan.course import film_setting
from evenwall.turning.patterns import still
from evenwall.web import rooms
from evenwall.web.piece_account import account_of


@pytest.mark.parametrize("opening", ["base counts", "trimmed", "pour hole"])
def test_the_scans_opening_is_the_cap_that_comes_off(
    tmp_path: Path, opening: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ball = trimesh.creation.icosphere(subdivisions=4, radius=40.0)
    flat = np.maximum(ball.vertices, (-np.inf, -np.inf, -20.0))
    above = ~(flat[ball.faces, 2] == -20.0).all(axis=1)
    bowl = trimesh.Trimesh(flat, ball.faces[above])
    (tmp_path / "bowl.obj").write_text(bowl.export(file_type="obj"), encoding="utf-8")
    told = f'name = "bowl"\n[piece]\nmesh = "bowl.obj"\nunit = "mm"\n[piece.answers]\n"opening 1" = "{opening}"\n'
    (tmp_path / "job.toml").write_text(told, encoding="utf-8")
    opened = open_job(tmp_path)
    closing = film_setting(opened.job, still(), ()).closing
    assert closing.comes_off == (opening != "base counts")
    assert closing.cap is not None
    base = (
        1e-6 * trimesh.Trimesh(flat, ball.faces[~above]).area
    )  # flat: its area is that of any cap on its rim
    assert face_areas(closing.cap.wall)[closing.cap.faces].sum() == pytest.approx(base, rel=1e-5)
    account = account_of(tmp_path, opened.file)
    monkeypatch.setattr(rooms, "kept_piece", lambda folder, file: account)
    shown = rooms.job_now(tmp_path, opened.file)
    assert fingerprint("plan", shown) == fingerprint("plan", opened.job)
