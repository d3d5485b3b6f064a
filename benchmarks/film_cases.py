"""The cases that the film's speed is measured on, and what one measurement is."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from evenwall.files.mesh_file import read_mesh
from evenwall.files.resin_file import load_resin
from evenwall.film.pouring import Setting, setting_of
from evenwall.film.state import Figures, Shot
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.scan import model_folder
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

AREA = 0.06  # wall of every piece [m2], a hand's size
TURNING = constant(frame_rate=10 * 2 * np.pi / 60, cradle_rate=6.18 * 2 * np.pi / 60)


def sized(surface: Surface) -> Surface:
    return Surface(surface.vertices * np.sqrt(AREA / face_areas(surface).sum()), surface.faces)


def egg() -> Surface:
    sphere = ball(1.0, rounds=6)
    return sized(Surface(sphere.vertices * [0.8, 1.0, 1.4], sphere.faces))


def figurine() -> Surface:
    """A figurine with horns, ears and legs; ends the program where the folder of models is absent."""
    place = model_folder() / "spot_triangulated.obj"
    if not place.is_file():
        raise SystemExit(f"the figurine is not at {place}: name the folder of models in EVENWALL_MESHES")
    found = read_mesh(place, unit="mm").surface
    return sized(Surface(found.vertices - found.vertices.mean(axis=0), found.faces))


SHAPES: dict[str, Callable[[], Surface]] = {"egg": egg, "figurine": figurine}


def shot_of(surface: Surface, thickness: float = 1e-3, *, mixed_at: float = 0.0) -> Shot:
    volume = float(face_areas(surface).sum()) * thickness
    return Shot(volume=volume, temperature=296.15, pour_after=90.0, mixed_at=mixed_at)


def setting(surface: Surface, thickness: float = 1e-3, resin: str = "museum-gradual") -> Setting:
    return setting_of(
        load_resin(resin),
        TURNING,
        (shot_of(surface, thickness),),
        mold_temperature=296.15,
        air_temperature=296.15,
    )


class Watch:
    """Wall and CPU time since it was started [s]."""

    def __init__(self) -> None:
        self.wall, self.cpu = time.perf_counter(), time.process_time()

    def read(self) -> dict[str, float]:
        return {"wall": time.perf_counter() - self.wall, "cpu": time.process_time() - self.cpu}


def memory() -> float:
    """The most memory that this process has held [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def figures_of(found: Figures) -> dict[str, float]:
    return {name: round(getattr(found, name) * 1e3, 4) for name in ("p05", "median", "p95", "mean")}


def apart(script: str, *words: object, timeout: float = 900.0) -> dict[str, object]:
    """What a benchmark says of one measurement, made in a process of its own."""
    place = Path(__file__).parent / script
    try:
        done = subprocess.run(
            [sys.executable, str(place), *(str(word) for word in words)],
            capture_output=True,
            text=True,
            timeout=timeout,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return {"failed": f"not done after {timeout:.0f} s"}
    if done.returncode:
        return {"failed": done.stderr.strip().splitlines()[-1:]}
    said: dict[str, object] = json.loads(done.stdout.strip().splitlines()[-1])
    return said
