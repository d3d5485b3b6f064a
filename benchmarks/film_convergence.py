"""Figures against mesh and step: python benchmarks/film_convergence.py [--nodes 2500 5000 10000] [MESH ...]

One 1 mm coat of the gradual demo resin on each piece scaled to 600 cm2 of wall, 10 and 6.18 turns a minute, every step
on the mesh itself. Without MESH: an egg, a peanut with a groove round its waist, and the demo's ammonite. `--halved`
halves the steps too, `--without` leaves out a term of the equations. Results: docs/performance.md.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

from evenwall.files.mesh_file import read_mesh
from evenwall.files.resin_file import load_resin
from evenwall.film.chain import run_chain
from evenwall.film.fluid import ALL_TERMS, Terms, fluid_of
from evenwall.film.pouring import Setting
from evenwall.film.state import CoatResult, Rubber, Shot
from evenwall.film.steps import USUAL, Control, shorter
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.remesh import in_order, remesh
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

TURNING = constant(frame_rate=10 * 2 * np.pi / 60, cradle_rate=6.18 * 2 * np.pi / 60)
WALL = 0.06  # [m2]
COAT = 1e-3  # [m]


def scaled(surface: Surface) -> Surface:
    middle = surface.vertices.mean(axis=0)
    return Surface((surface.vertices - middle) * np.sqrt(WALL / face_areas(surface).sum()), surface.faces)


def egg() -> Surface:
    sphere = ball(1.0, rounds=6)
    return Surface(sphere.vertices * [0.8, 1.0, 1.4], sphere.faces)


def peanut() -> Surface:
    sphere = ball(1.0, rounds=6)
    x, y, z = sphere.vertices.T
    waist = 0.8 * (1.0 - 0.45 * np.exp(-((z / 0.18) ** 2)))
    return Surface(np.stack([x * waist, y * waist, 1.5 * z], axis=1), sphere.faces)


def coat(surface: Surface, volume: float, terms: Terms, control: Control) -> CoatResult:
    resin = load_resin("museum-gradual")
    setting = Setting(
        fluid=fluid_of(resin), heat_limit=(resin.heat_limit, "resin"), motion=TURNING,
        shots=(Shot(volume=volume, temperature=296.15, pour_after=90.0),), rubber=Rubber(),
        mold_temperature=296.15, air_temperature=296.15, crossing=(0.0, 0.0, 0.0), terms=terms, control=control,
    )  # fmt: skip
    return run_chain(surface, setting).coats[0]


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("meshes", nargs="*", type=Path)
    ask.add_argument("--nodes", nargs="+", type=int, default=[2500, 5000, 10000])
    ask.add_argument("--halved", action="store_true")
    ask.add_argument("--without", choices=[name for name in Terms._fields if name != "mobility_cap"])
    given = ask.parse_args()
    terms = ALL_TERMS._replace(**{given.without: 0.0}) if given.without else ALL_TERMS
    pieces = {path.stem: read_mesh(path, unit="mm").surface for path in given.meshes}
    for name, piece in (pieces or {"egg": egg(), "peanut": peanut(), "ammonite": ammonite()}).items():
        whole = scaled(piece)
        for count in given.nodes:
            surface = in_order(remesh(whole, nodes=count).surface)
            for share in (1.0, 0.5) if given.halved else (1.0,):
                began = time.process_time()
                done = coat(surface, WALL * COAT, terms, shorter(USUAL, share))
                f = done.figures
                print(
                    f"{name:12s} {len(surface.vertices):6d} nodes {'halved ' if share < 1.0 else ''}"
                    f"{done.steps:6d} steps {time.process_time() - began:6.1f} s"
                    f"  p05 {f.p05 * 1e3:.4f} p50 {f.median * 1e3:.4f}"
                    f" p95 {f.p95 * 1e3:.4f} mean {f.mean * 1e3:.4f} cv {f.cv:.4f} least {f.least * 1e3:.3f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
