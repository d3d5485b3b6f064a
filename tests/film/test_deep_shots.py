"""A shot that gels with its pool: what its steps leave open."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.files.resin_file import load_resin
from evenwall.film.findings import quantile
from evenwall.film.pouring import poured, run_pour, setting_of
from evenwall.film.rubber import new_column
from evenwall.film.state import Shot
from evenwall.film.steps import USUAL, shorter
from evenwall.geometry.remesh import evened
from evenwall.geometry.solid import area
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant


def test_halved_steps_leave_a_deep_shot_as_it_is() -> None:
    """At 0.03 rad a step, as for thin coats, its figures move by more than this."""
    sphere = ball(0.0576, rounds=4)
    egg = evened(Surface(sphere.vertices * [0.96, 1.0, 1.4], sphere.faces), nodes=700)
    shot = Shot(volume=5e-3 * area(egg), temperature=296.15, pour_after=90.0)
    turning = constant(frame_rate=1.047, cradle_rate=0.647)
    found = []
    for share in (1.0, 0.5):
        case = setting_of(load_resin("museum-sudden"), turning, (shot,), control=shorter(USUAL, share))
        column = new_column(case.rubber, len(egg.vertices), temperature=case.mold_temperature)
        pour = poured(egg, shot, case, column)
        run = run_pour(pour, case)
        found.append([quantile(run.thickness, pour.wall.area, part) for part in (0.05, 0.5, 0.95)])
    assert np.asarray(found[0]) == pytest.approx(np.asarray(found[1]), rel=0.05)
