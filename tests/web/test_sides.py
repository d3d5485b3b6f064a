"""Which of the mesh's axes a tapped side looks along, and where its mark stands."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.files.mesh_scale import upright
from evenwall.web.views.sides import axis_of, side_marks

AXES = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}


@pytest.mark.parametrize("up", ["x", "y", "z", "-x", "-y", "-z"])
@pytest.mark.parametrize("axis", ["x", "y", "z", "-x", "-y", "-z"])
def test_the_axis_is_found_again_through_the_turn(up: str, axis: str) -> None:
    sign = -1.0 if axis.startswith("-") else 1.0
    tapped = upright(up) @ (sign * np.array(AXES[axis[-1]]) + [0.1, 0.05, -0.08])
    assert axis_of(tapped, up=up) == axis
    assert axis_of((0, 0, 1), up=up) == up  # what is up now is the axis that was said


def test_a_mark_stands_off_the_piece_on_its_side() -> None:
    box = np.array([[0, 0, 0], [0.2, 0.1, 0.05]], dtype=np.float64)
    (mark,) = side_marks(box, {"face": (0, 0, 3)})
    assert mark["name"] == "face"
    np.testing.assert_allclose(mark["at"], [0.1, 0.05, 0.025 + 0.55 * 0.2])
