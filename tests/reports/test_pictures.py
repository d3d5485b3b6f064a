"""The wall map: views, colours that rise with thickness, the wanted wall on the scale, letters in front only."""

import io

import matplotlib.image
import numpy as np
import pytest
import trimesh

from evenwall.geometry.surface import Surface
from evenwall.reports.pictures import Mark, View, four_sides, scale_ends, wall_map

FRONT = View(name="front", azimuth=0.0, elevation=0.0)


def ball(stretch=(1.0, 1.0, 1.0)):
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=0.05)
    mesh.apply_scale(stretch)
    return Surface(np.asarray(mesh.vertices, dtype=np.float64), np.asarray(mesh.faces))


def pixels(png):
    return matplotlib.image.imread(io.BytesIO(png), format="png")[..., :3]


def seen(thickness, **options):
    surface = ball()
    return pixels(wall_map(surface, thickness(surface.vertices), wanted=3e-3, **options))


def first_view(picture):
    """Brightness of the first of four views by rows, where the ball is."""
    height, width = picture.shape[:2]
    part = picture[int(0.08 * height) : int(0.45 * height), int(0.05 * width) : int(0.38 * width)]
    bright = part @ np.array([0.2126, 0.7152, 0.0722])  # luminance, ITU-R BT.709
    inside = bright < 0.97
    assert inside.mean() > 0.3
    return np.array([row[here].mean() for row, here in zip(bright, inside, strict=True) if here.any()])


def test_thicker_is_brighter():
    # cividis is made so that lightness rises with the value (Nunez et al., PLoS ONE 13 (2018) e0199239)
    above = first_view(seen(lambda x: 3e-3 + 0.04 * x[:, 2], views=[FRONT] * 4))
    below = first_view(seen(lambda x: 3e-3 - 0.04 * x[:, 2], views=[FRONT] * 4))
    third = len(above) // 3
    assert above[:third].mean() > 1.3 * above[-third:].mean()
    assert below[:third].mean() < below[-third:].mean()


def test_a_letter_is_drawn_only_where_it_is_in_front():
    def differs(at):
        surface = ball()
        thickness = np.full(len(surface.vertices), 3e-3)
        marks = [Mark(letter="K", at=at)]
        bare, marked = (
            pixels(wall_map(surface, thickness, wanted=3e-3, marks=some, views=[FRONT] * 4))
            for some in ([], marks)
        )
        return not np.array_equal(bare, marked)

    assert differs((0.0, -0.05, 0.0))  # the front is seen from -y
    assert not differs((0.0, 0.05, 0.0))


def test_moving_the_wanted_wall_moves_its_mark():
    surface = ball()
    thickness = 3e-3 + 0.02 * surface.vertices[:, 2]
    one, other = (pixels(wall_map(surface, thickness, wanted=w, views=[FRONT] * 4)) for w in (2.5e-3, 3.5e-3))

    def red_rows(picture):
        red = (picture[..., 0] > 0.6) & (picture[..., 1] < 0.3) & (picture[..., 2] < 0.3)
        return np.flatnonzero(red.any(axis=1))

    assert len(red_rows(one))
    assert red_rows(one).mean() > red_rows(other).mean()  # rows count from the top


@pytest.mark.parametrize("wanted", [0.5, 3.0, 40.0])
def test_the_wanted_wall_always_lies_on_the_scale(wanted):
    low, high = scale_ends(np.linspace(2.0, 5.0, 1000), wanted)
    assert 0.0 <= low < wanted < high
    assert low < 2.1
    assert high > 4.9


def test_an_even_wall_has_a_scale_too():
    low, high = scale_ends(np.full(100, 3.0), 3.0)
    assert low < 3.0 < high


@pytest.mark.parametrize(
    ("stretch", "looks"),
    [
        ((1.0, 1.0, 0.3), {"above", "below"}),
        ((0.3, 1.0, 1.0), {"right", "left"}),
        ((1.0, 0.3, 1.0), {"front", "back"}),
    ],
)
def test_a_flat_piece_is_seen_from_its_faces(stretch, looks):
    views = four_sides(ball(stretch))
    assert len(views) == 4
    assert looks <= {view.name.split()[0] for view in views}
