"""The pose in which brushed resin gels: it lies in the brushed place instead of running out of it."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.files.resin_file import load_resin
from evenwall.film.places import place_words, side_words
from evenwall.film.pouring import Setting, setting_of
from evenwall.film.state import Brushed
from evenwall.plan.resting import resting_pose
from evenwall.proof.shapes import ball
from evenwall.turning import patterns
from evenwall.turning.kinematics import rotation


@pytest.fixture(scope="module")
def setting() -> Setting:
    return setting_of(load_resin("museum-sudden"), patterns.still(), ())


@pytest.mark.parametrize("side", [(1.0, 0.0, 0.0), (0.0, 0.6, 0.8)])
def test_a_brushed_hollow_lies_at_the_bottom(setting: Setting, side: tuple[float, float, float]) -> None:
    # "the brushed mold must be propped so that it does not drain from there": common practice, no source
    surface = ball(0.04, rounds=3)
    marks = (surface.vertices @ np.asarray(side) > 0.034).astype(float)
    layer = Brushed(marked=surface, marks=marks, thickness=4e-4, laid_after=60.0)
    pose = resting_pose(setting, layer, nodes=500)
    assert np.asarray(pose.up) @ np.asarray(side) < -0.85
    assert 0.3 < pose.kept <= 1.0
    turned = rotation(frame_angle=pose.frame_angle, cradle_angle=pose.cradle_angle) @ np.asarray(pose.up)
    assert turned == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)


def test_places_and_sides_are_said_with_the_users_names() -> None:
    surface = ball(0.04, rounds=2)
    sides = {"face": (0.0, 0.0, 1.0)}
    assert place_words(np.array([0.0, 0.0, 0.04]), surface, sides) == "on the face"
    assert place_words(np.array([0.03, 0.0, 0.02]), surface, sides) == "on the +x side, toward the face"
    assert place_words(np.array([0.0, 0.0, -0.04]), surface, sides) == "on the -z side"
    assert place_words(np.zeros(3), surface, {}) == "in the middle"
    assert side_words((0.0, 0.1, 1.0), sides) == "the face"
    assert side_words((0.0, 0.6, 0.8), sides) == "what lies between the face and the +y side"
