"""A small job and its plan, made once for all tests of reports."""

import numpy as np
import pytest
import trimesh

from evenwall import job as pipeline
from evenwall.files.resin_file import load_resin
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import Surface
from evenwall.job import Job, Piece
from evenwall.plan.costs import Prices
from evenwall.plan.shots import WallWish


def egg():
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=0.04)
    mesh.apply_scale([1.0, 0.8, 1.2])
    return Surface(np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces))


@pytest.fixture(scope="session")
def small():
    """An egg of 2 mm wall in two coats: job and plan."""
    surface = egg()
    solid = measures(surface)
    job = Job(
        name="egg",
        piece=Piece(
            surface=surface, area_band=(solid.area, solid.area), volume_band=(solid.volume, solid.volume)
        ),
        resin=load_resin("museum-gradual"),
        wish=WallWish(usual=2e-3, least=1e-3, coats=2),
        crossing=solid.centroid,
        prices=Prices(currency="EUR", resin=20.0),
        pigment=0.02,
    )
    return job, pipeline.plan(job, nodes=500)
