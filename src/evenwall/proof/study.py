"""What mesh and steps leave open in a coat's figures."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Final

import numpy as np

from evenwall.files.mesh_file import read_mesh
from evenwall.film.run import forecast
from evenwall.film.state import FilmForecast, Shot
from evenwall.film.steps import USUAL, Control, shorter
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.scan import model_folder
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within
from evenwall.resin.calibrate import calibrate
from evenwall.resin.data import DataSheet, Resin, Value
from evenwall.turning.patterns import constant

FINER: Final = "common practice, no source: a figure may not hang on the mesh or the step"
WALL: Final = 0.06  # [m2]
MODELS: Final = ("spot_triangulated.obj", "koala.obj")  # where they are at hand


def rows(*, full: bool) -> Iterator[Row]:
    """A 1 mm coat on an egg in halved steps; `full` adds finer meshes of it, the demo's ammonite and real models."""
    sphere = ball(1.0, rounds=6 if full else 4)
    egg = Surface(sphere.vertices * [0.8, 1.0, 1.4], sphere.faces)
    nodes = 5_000 if full else 800
    usual = _coat(egg, nodes=nodes)
    yield from _same(
        "an egg, steps against halved ones", _coat(egg, nodes=nodes, control=shorter(USUAL, 0.5)), usual
    )
    if full:
        yield from _same("an egg, 5000 nodes against 10,000", _coat(egg, nodes=10_000), usual)
        yield from told("an egg", egg, nodes=2_500)
        for name in MODELS:
            if (model_folder() / name).is_file():
                yield from told(name, read_mesh(model_folder() / name, unit="mm").surface, nodes=2_500)
        for few in (2_500, 5_000):
            yield from told("an ammonite", ammonite(), nodes=few)


def _same(what: str, finer: FilmForecast, coarser: FilmForecast) -> Iterator[Row]:
    for figure in ("p05", "median", "p95"):
        yield within(
            f"{figure} of a coat on {what}", getattr(finer.figures, figure), getattr(coarser.figures, figure),
            0.02, unit="m", source=FINER, status="common practice",
        )  # fmt: skip


def told(what: str, piece: Surface, *, nodes: int) -> Iterator[Row]:
    """The band of a forecast of a piece with so many `nodes` has to reach to what one with four times as many tells."""
    fine = _coat(piece, nodes=4 * nodes, second_mesh=True)
    done = _coat(piece, nodes=nodes, second_mesh=True)
    for figure in ("p05", "median", "p95"):
        yield Row(
            check=f"{figure} of a coat on {what}, {nodes} nodes against {4 * nodes}, within the forecast's band",
            expected=getattr(fine.figures, figure), got=getattr(done.figures, figure), unit="m",
            tolerance=getattr(done.uncertainty, figure), source=FINER, status="common practice",
        )  # fmt: skip


def _coat(piece: Surface, *, nodes: int, second_mesh: bool = False, control: Control = USUAL) -> FilmForecast:
    area = float(face_areas(piece).sum())
    wall = Surface(piece.vertices * np.sqrt(WALL / area), piece.faces)
    turning = constant(frame_rate=1.047, cradle_rate=0.647)
    shot = Shot(volume=WALL * 1e-3, pour_after=90.0)
    return forecast(wall, _resin(), turning, (shot,), nodes=nodes, second_mesh=second_mesh, control=control)


def _resin() -> Resin:
    """One that thickens slowly, invented for this study."""
    said = partial(Value, source="invented for this study", pedigree="assumed")
    return calibrate(
        DataSheet(
            name="study", ratio=said(number=1.0), pot_life=said(number=180.0), viscosity=said(number=0.12)
        )
    )
