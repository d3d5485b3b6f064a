"""The job's piece, read from its mesh or estimated from readings, with everything there is to say about it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenwall.files.job_schema import JobFile
from evenwall.files.mesh_file import MeshReading
from evenwall.files.mesh_questions import repair_sentence
from evenwall.files.open_job import capped, job_of
from evenwall.geometry.solid import measures
from evenwall.web.rooms import Choice, Line, PieceAccount


def account_of(folder: Path, file: JobFile) -> PieceAccount:
    """Read or estimate the job's piece; MeshError, JobError or InputError in one sentence where that can't be."""
    opened = job_of(folder, file)
    piece, reading = opened.job.piece, opened.reading
    solid = measures(piece.surface)
    vertices = np.asarray(piece.surface.vertices)
    estimated = PieceAccount(
        vertices=vertices,
        faces=np.asarray(piece.surface.faces),
        area=float(solid.area),
        volume=float(solid.volume),
        area_band=piece.area_band,
        volume_band=piece.volume_band,
        extents=_triple(np.ptp(vertices, axis=0)),
        centroid=_triple(solid.centroid),
        up="z",
        metres_per_number=1.0,
        turn=np.eye(3),
        kind="estimated without a scan",
        scan=False,
        closed=True,
        faces_read=0,
        repairs=(),
        questions=(),
        warnings=(),
        middles=(),
        opening=piece.opening,
        opening_area=piece.opening_area,
        capped=np.empty(0, dtype=np.int64),
    )
    return estimated if reading is None else _scanned(estimated, reading)


def _scanned(estimated: PieceAccount, reading: MeshReading) -> PieceAccount:
    """The same of a piece that was read from a mesh, with all that the reading says."""
    odd = (reading.size_question,) if reading.size_question else ()
    return replace(
        estimated,
        up=reading.up or "z",
        metres_per_number=reading.metres_per_number,
        turn=reading.turn,
        kind=reading.kind,
        scan=True,
        closed=reading.closed,
        faces_read=reading.faces_read,
        repairs=tuple(Line(name=r.name, sentence=repair_sentence(r)) for r in reading.repairs),
        questions=tuple(
            Choice(name=q.name, sentence=q.sentence, options=q.options, answer=q.answer)
            for q in reading.questions
        ),
        warnings=(*reading.warnings, *odd),
        middles=tuple(_triple(np.asarray(opening.middle)) for opening in reading.openings),
        capped=capped(reading),
    )


def _triple(values: NDArray[np.float64]) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in values)
    return x, y, z
