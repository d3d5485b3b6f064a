"""The job that the views show is the job that the workers plan, to the last bit: else no plan would ever hold."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenwall.files.demo import binary_stl
from evenwall.files.job_file import read_job_file
from evenwall.files.open_job import open_job
from evenwall.files.results import fingerprint
from evenwall.geometry.surface import Surface
from evenwall.web import rooms
from evenwall.web.work import read

SCAN = '[piece]\nmesh = "piece.stl"\nunit = "mm"\n[piece.sides]\nface = [0, 0, 1]\n'
READINGS = '[piece]\nreadings = [{ way = "box", size_mm = [120, 80, 60] }]\n'


@pytest.mark.parametrize("said", [SCAN, READINGS, SCAN + "[turning]\ncrossing_mm = [1, 2, 3]\n"])
def test_views_and_workers_mean_the_same_job(tmp_path: Path, said: str) -> None:
    corners = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]], dtype=np.float64)
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    (tmp_path / "piece.stl").write_bytes(binary_stl(Surface(corners, faces)))
    (tmp_path / "job.toml").write_text(said, encoding="utf-8")
    read(tmp_path)
    shown = rooms.job_now(tmp_path, read_job_file(tmp_path))
    assert fingerprint(shown) == fingerprint(open_job(tmp_path).job)
