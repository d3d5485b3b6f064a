"""The brush coat covers what is narrow and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from evenwall.geometry.surface import Surface
from evenwall.plan.brush import brush_coat
from evenwall.plan.weighout import BRUSH_COAT


def test_a_thin_pin_is_brushed_all_over_though_its_own_triangles_are_long() -> None:
    mesh = trimesh.creation.capsule(height=0.03, radius=0.002, count=(16, 16))
    brush = brush_coat(Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces)))
    assert brush.area == pytest.approx(mesh.area, rel=0.05)
    assert brush.volume == pytest.approx(BRUSH_COAT * brush.area)
    assert brush.nodes == tuple(range(len(mesh.vertices)))


def test_a_ball_needs_no_brush() -> None:
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=0.02)
    brush = brush_coat(Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces)))
    assert brush.area == 0.0
    assert brush.nodes == ()
