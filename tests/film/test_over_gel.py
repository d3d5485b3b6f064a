"""Liquid that runs over what has gelled."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenwall.film.coat import run_coat, volumes
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.proof.film import PLAIN
from evenwall.proof.shapes import plate
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import still


def test_a_current_runs_over_gelled_wall_as_over_bare_wall() -> None:
    # Huppert, Nature 300 (1982) 427: front (9 A^2 g sin(slope) t/(4 nu))^(1/3); the gel is a 100th of its depth
    wall = build_wall(plate(0.2, 2e-3), curved=False)
    y, area, until = wall.x[:, 1], 1e-4, 2.0
    start = volumes(wall, np.where(y <= 0.02, 5e-3, 0.0))
    start *= area * float(wall.area.sum()) / 0.2 / float(wall.area @ start)
    below = y > 0.02
    run = run_coat(
        wall,
        constant_fluid(viscosity=0.1, density=1000.0),
        still(frame_angle=-math.pi / 6),
        volume=np.where(below, 1e-5, start),
        conversion=np.where(below, 1.0, 0.0),
        until=until,
        terms=PLAIN,
    )
    front = (9.0 * area**2 * GRAVITY * 0.5 / 1e-4 * until / 4.0) ** (1.0 / 3.0)
    moment = float(wall.area @ (run.film.volume * y)) / float(wall.area @ run.film.volume)
    assert np.all(run.film.solid[y > 0.08] > 0.0)
    assert moment / 0.6 == pytest.approx(front, rel=0.01)
