"""The machine of a job folder: the mold's mass and centre against exact solids, what is given, faults."""

import numpy as np
import pytest
import trimesh

from evenwall.errors import InputError, JobError
from evenwall.files.job_file import check_job, write_job_file
from evenwall.files.machine_file import balance_of, machine_of
from evenwall.files.open_job import open_job

GRAVITY = 9.80665  # standard gravity [m/s2], BIPM, The International System of Units, 9th ed.


def opened(folder, mesh=None, **tables):
    """A job of a 60 mm cube, or of a mesh in millimetres."""
    mesh = trimesh.creation.box(extents=(60.0, 60.0, 60.0)) if mesh is None else mesh
    mesh.export(folder / "piece.stl")
    write_job_file(
        folder, check_job({"name": "cube", "piece": {"mesh": "piece.stl", "unit": "mm"}, **tables})
    )
    return open_job(folder)


def machine(job):
    return machine_of(job.file, job.job)


def test_unweighed_mold_is_a_block_less_the_piece(tmp_path):
    found = machine(opened(tmp_path, mold={"rubber_mm": 10.0, "rubber_density_g_mL": 1.2}))
    assert found.machine.mold_outer == pytest.approx((0.08, 0.08, 0.08))
    assert found.machine.mold_mass == pytest.approx(1200.0 * (0.08**3 - 0.06**3))
    assert found.machine.mold_known == "computed"
    assert any("not weighed" in one for one in found.assumed)


def test_mass_and_centre_of_a_lopsided_mold_are_those_of_the_solid(tmp_path):
    cone = trimesh.creation.cone(radius=30.0, height=80.0)
    found = machine(opened(tmp_path, cone.copy(), mold={"rubber_mm": 15.0}))
    low, high = cone.bounds
    block = trimesh.creation.box(bounds=(low - 15.0, high + 15.0))
    solid = trimesh.boolean.difference([block, cone], engine="manifold")  # a general-purpose library
    assert found.machine.mold_mass == pytest.approx(1120.0 * solid.volume * 1e-9, rel=1e-5)
    offset = 1e-3 * (solid.center_mass - 0.5 * (low + high))
    assert np.asarray(found.machine.mold_offset) == pytest.approx(offset, abs=1e-6)


def test_a_weighed_mold_off_the_axis_pulls_with_its_weight_times_its_arm(tmp_path):
    job = opened(
        tmp_path,
        mold={"weight_g": 4000.0, "outer_mm": [90.0, 90.0, 90.0]},
        machine={"mold_center_mm": [0.0, 30.0, 0.0], "frame_opening_mm": [500.0, 400.0]},
    )
    found = machine(job).machine
    assert found.mold_known == "weighed"
    report = balance_of(job)
    pull = (4.0 + found.casting_mass) * GRAVITY * 0.03
    assert report.cradle_axis_torque.before == pytest.approx(pull, rel=1e-6)
    assert report.cradle_axis_torque.after < 0.3 * pull
    assert report.counterweights


def test_where_the_axes_cross_holds_for_the_machine_too(tmp_path):
    found = machine(opened(tmp_path, turning={"crossing_mm": [5.0, 0.0, -10.0]})).machine
    assert found.mold_centre == pytest.approx((-0.005, 0.0, 0.010))


def test_own_weights_and_sizes_are_taken(tmp_path):
    found = machine(
        opened(
            tmp_path,
            machine={
                "frame_opening_mm": [500.0, 400.0],
                "frame_weight_g": 3000.0,
                "cradle_weight_g": 2000.0,
                "rim_mm": 250.0,
                "axle_height_mm": 700.0,
                "weights": [{"name": "sash weight", "weight_g": 350.0, "count": 3}],
            },
        )
    ).machine
    assert found.frame_opening == (0.5, 0.4)
    sizes = (found.frame_mass, found.cradle_mass, found.rim, found.axle_height)
    assert sizes == pytest.approx((3.0, 2.0, 0.25, 0.7))
    (weight,) = found.weights
    assert (weight.name, weight.mass, weight.count) == ("sash weight", pytest.approx(0.35), 3)


def test_a_frame_that_was_not_measured_clears_and_is_said(tmp_path):
    report = balance_of(opened(tmp_path))
    assert report.clearance.smallest.gap > 0.01
    assert any("opening is taken as" in one for one in report.assumed)
    assert any("no plan yet" in one for one in report.assumed)


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ({"mold": {"outer_mm": [90.0, 50.0, 90.0]}}, "50 mm along y but the piece alone is 60.0 mm"),
        ({"mold": {"outer_mm": [90.0, 90.0]}}, "mold.outer_mm has 2 of 3 numbers"),
        ({"machine": {"frame_opening_mm": [90.0]}}, "machine.frame_opening_mm has 1 of 2 numbers"),
    ],
)
def test_faults_are_named(tmp_path, tables, said):
    with pytest.raises(InputError, match=said):
        machine(opened(tmp_path, **tables))


def test_three_openings_are_refused(tmp_path):
    with pytest.raises(JobError, match="frame_opening_mm"):
        opened(tmp_path, machine={"frame_opening_mm": [1.0, 2.0, 3.0]})
