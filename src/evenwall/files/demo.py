"""The demo: a museum's education shop orders hollow replica ammonites."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np

from evenwall.errors import JobError
from evenwall.files.job_file import NAME, write_job_file, write_whole
from evenwall.files.job_schema import Costs, JobFile, Mold, Piece, Resin, Shop, Wall
from evenwall.files.stl_format import RECORD
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.surface import Surface, area_vectors, corners

MESH: Final = "ammonite.stl"

DEMO: Final = JobFile(
    name="Replica ammonite for the education shop",
    piece=Piece(mesh=MESH, unit="mm", up="z", sides={"face": [0, 0, 1], "back": [0, 0, -1]}),
    wall=Wall(target_wall_mm=3.0, least_wall_mm=1.2),
    resin=Resin(name="museum-gradual", pigment_percent=2.0),
    shop=Shop(air_C=21.0, humidity_percent=42.0),
    mold=Mold(rubber_mm=12.0, opening="pour hole", opening_cm2=7.0),
    costs=Costs(currency="EUR", pigment_per_kg=90.0, hour=28.0, mold_price=160.0, mold_castings=40),
)


def make_demo(folder: Path) -> None:
    """Write the demo job into `folder`, which must be new or empty; JobError if it holds something else."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise JobError(f"{folder} is not empty: name a new folder, nothing is overwritten")
    folder.mkdir(parents=True, exist_ok=True)
    write_whole(folder / MESH, binary_stl(ammonite()))
    write_job_file(folder, DEMO)


def has_job(folder: Path) -> bool:
    """True where the folder holds a job."""
    return (folder / NAME).is_file()


def binary_stl(surface: Surface) -> bytes:
    """The surface as binary STL in millimetres."""
    table = np.zeros(len(surface.faces), dtype=RECORD)
    vectors = area_vectors(surface)
    table["normal"] = vectors / np.maximum(np.linalg.norm(vectors, axis=1), 1e-300)[:, None]
    table["corners"] = 1e3 * corners(surface)
    return b"evenwall, millimetres".ljust(80, b"\0") + np.uint32(len(table)).tobytes() + table.tobytes()
