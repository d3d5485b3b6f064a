from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenwall.errors import InputError, MeshError
from evenwall.geometry.crossing import crossings
from evenwall.geometry.mend import mend
from evenwall.geometry.mended import Choices, mended_at
from evenwall.geometry.shrink import cavity_factor
from evenwall.geometry.solid import measures
from evenwall.geometry.solid import volume as volume_of
from evenwall.geometry.surface import (
    Surface,
    boundary_loops,
    edges,
    is_closed,
    joined,
    open_edges,
    scaled,
    transformed,
    turned_round,
)
from evenwall.geometry.winding import winding
from stand_ins import ball

BALL = Surface(*ball(12, bumps=0.1))


def box(size: tuple[float, float, float] = (1, 1, 1), at: tuple[float, float, float] = (0, 0, 0)) -> Surface:
    corners = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 1.0)])
    faces = np.array(
        [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6],
         [0, 6, 4], [1, 5, 7], [1, 7, 3]]
    )  # fmt: skip
    return Surface(corners * np.array(size) + np.array(at), faces)


def names(mended: object) -> list[str]:
    return [r.name for r in mended.repairs]  # type: ignore[attr-defined]


def test_a_good_surface_passes_untouched() -> None:
    got = mend(BALL)
    assert not got.repairs
    assert not got.openings
    assert got.closed
    assert volume_of(got.surface) == pytest.approx(volume_of(BALL), rel=1e-14)


@settings(max_examples=25, deadline=None)
@given(st.sets(st.integers(0, len(BALL.faces) - 1), min_size=1, max_size=40))
def test_faces_turned_against_their_neighbours_are_turned_back(turned: set[int]) -> None:
    faces = BALL.faces.copy()
    faces[list(turned)] = faces[list(turned)][:, ::-1]
    got = mend(Surface(BALL.vertices, faces))
    assert is_closed(got.surface)
    assert volume_of(got.surface) == pytest.approx(volume_of(BALL), rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(
    st.sets(st.integers(0, len(BALL.faces) - 1), min_size=1, max_size=25), st.randoms(use_true_random=False)
)
def test_missing_faces_are_closed_again(gone: set[int], random: object) -> None:
    keep = np.ones(len(BALL.faces), dtype=bool)
    keep[list(gone)] = False
    got = mend(Surface(BALL.vertices, BALL.faces[keep]))
    assert got.closed
    assert got.open_edges > 0
    assert volume_of(got.surface) == pytest.approx(volume_of(BALL), rel=0.1)


def test_the_order_of_vertices_and_faces_does_not_matter() -> None:
    rng = np.random.default_rng(3)
    broken = Surface(BALL.vertices, BALL.faces[5:])
    order = rng.permutation(len(broken.vertices))
    back = np.argsort(order)
    shuffled = Surface(broken.vertices[order], back[broken.faces][rng.permutation(len(broken.faces))])
    a, b = mend(broken), mend(shuffled)
    assert volume_of(a.surface) == pytest.approx(volume_of(b.surface), rel=1e-9)
    assert names(a) == names(b)


def test_a_seam_of_jittered_vertices_is_sewn() -> None:
    soup = Surface(BALL.vertices[BALL.faces].reshape(-1, 3), np.arange(BALL.faces.size).reshape(-1, 3))
    jitter = np.random.default_rng(1).uniform(-1e-6, 1e-6, soup.vertices.shape)
    got = mend(Surface(soup.vertices + jitter, soup.faces))
    assert got.closed
    assert "sew open seams" in names(got)
    assert volume_of(got.surface) == pytest.approx(volume_of(BALL), rel=1e-5)


def test_a_face_in_a_line_that_its_neighbours_need_is_flipped_away() -> None:
    # a corner in the middle of an edge, on one side only, joined by a face without area
    cube = box()
    vertices = np.concatenate([cube.vertices, [[0.5, 0.0, 0.0]]])
    faces = [f for f in cube.faces.tolist() if f != [0, 4, 5]]
    faces += [[0, 8, 5], [8, 4, 5], [0, 4, 8]]
    got = mend(Surface(vertices, np.array(faces)))
    assert got.closed
    assert names(got) == ["flip faces without area"]
    assert volume_of(got.surface) == pytest.approx(1.0)
    assert measures(got.surface).area == pytest.approx(6.0)


def test_fins_and_inner_walls_are_dropped() -> None:
    cube = box()
    fin = Surface(
        np.concatenate([cube.vertices, [[1.4, 0.5, 2.0]]]), np.concatenate([cube.faces, [[5, 7, 8]]])
    )
    got = mend(fin)
    assert got.closed
    assert names(got) == ["drop loose sheets"]
    assert volume_of(got.surface) == pytest.approx(1.0)
    # two boxes with the wall between them left in, once
    pair = joined((box(), box(at=(1, 0, 0))))
    wall_of_second = [k for k, f in enumerate(pair.faces) if k >= 12 and (pair.vertices[f][:, 0] == 1).all()]
    got = mend(Surface(pair.vertices, np.delete(pair.faces, wall_of_second, axis=0)))
    assert got.closed
    assert volume_of(got.surface) == pytest.approx(2.0)


def test_touching_boxes_lose_the_double_wall_between_them() -> None:
    got = mend(joined((box(), box(at=(1, 0, 0)))))
    assert got.closed
    assert volume_of(got.surface) == pytest.approx(2.0)
    assert measures(got.surface).area == pytest.approx(10.0)


def test_a_void_is_dropped_or_kept() -> None:
    hollow = joined((box((4, 4, 4)), turned_round(box(at=(1, 1, 1)))))
    assert volume_of(mend(hollow).surface) == pytest.approx(64.0)
    kept = mend(hollow, Choices(inner="keep"))
    assert volume_of(kept.surface) == pytest.approx(63.0)
    assert not kept.repairs
    assert [b.role for b in kept.bodies] == ["piece", "inner"]
    inside_out = mend(turned_round(hollow), Choices(inner="keep"))
    assert volume_of(inside_out.surface) == pytest.approx(63.0)


def test_scraps_are_dropped_and_named() -> None:
    scrap = Surface(BALL.vertices[BALL.faces[:2]].reshape(-1, 3) + 3.0, np.arange(6).reshape(-1, 3))
    got = mend(joined((BALL, scrap)))
    assert names(got)[-1] == "drop scraps"
    assert volume_of(got.surface) == pytest.approx(volume_of(BALL))
    assert got.bodies[-1].role == "scrap"


def test_several_openings_each_get_their_role() -> None:
    y = BALL.vertices[BALL.faces][:, :, 1]
    tube = Surface(BALL.vertices, BALL.faces[(np.abs(y) < 0.7).all(axis=1)])
    got = mend(tube, Choices(opening="trimmed", openings={2: "pour hole"}))
    assert [o.role for o in got.openings] == ["trimmed", "pour hole"]
    assert sorted(np.sign(o.normal[1]) for o in got.openings) == [-1.0, 1.0]
    counts = sum(len(o.faces) for o in got.openings)
    assert counts == len(got.surface.faces) - len(tube.faces)


def test_boxes_through_each_other_are_united_to_the_exact_volume() -> None:
    # a bar through a block: 2 x 2 x 2 and 4 x 1 x 1 share 2 x 1 x 1; one end of the bar sits in a face's plane
    block, bar = box((2, 2, 2), (-1, -1, -1)), box((4, 1, 1), (-2, -0.5, -0.5))
    got = mend(joined((block, bar)))
    assert volume_of(got.surface) == pytest.approx(10.0)
    assert got.crossing is not None
    assert got.crossing.united


@settings(max_examples=20, deadline=None)
@given(st.floats(0.3, 1.4), st.floats(0, 6.0))
def test_crossing_faces_are_found_by_brute_force_too(shift: float, turn: float) -> None:
    c, s = np.cos(turn), np.sin(turn)
    small = Surface(*ball(5))
    other = transformed(small, [[c, -s, 0], [s, c, 0], [0, 0, 1]], shift=(shift, 0.1, 0.05))
    both = joined((small, other))
    found = {tuple(sorted(p)) for p in crossings(both).pairs.tolist()}
    assert found == _brute_force(both, len(small.faces))


def _brute_force(surface: Surface, first: int) -> set[tuple[int, int]]:
    """Pairs whose edges meet the other's face, by solving for the meeting point."""
    found = set()
    t = surface.vertices[surface.faces]
    for i in range(first):
        for j in range(first, len(t)):
            for a, b in ((t[i], t[j]), (t[j], t[i])):
                for k in range(3):
                    matrix = np.stack([b[1] - b[0], b[2] - b[0], a[k] - a[(k + 1) % 3]], axis=1)
                    if abs(np.linalg.det(matrix)) < 1e-14:
                        continue
                    u, v, w = np.linalg.solve(matrix, a[k] - b[0])
                    if u >= 0 and v >= 0 and u + v <= 1 and 0 <= w <= 1:
                        found.add((i, j))
    return found


def test_a_body_that_crosses_itself_is_said() -> None:
    vertices = BALL.vertices.copy()
    top = int(np.argmax(vertices[:, 1]))
    vertices[top] = (0.0, -1.6, 0.0)  # the pole pushed out through the other side
    got = mend(Surface(vertices, BALL.faces))
    assert got.crossing is not None
    assert not got.crossing.between_bodies
    assert got.crossing.faces > 2


def test_winding_is_one_inside_and_zero_outside() -> None:
    # van Oosterom & Strackee 1983: the solid angle of a closed surface is 4 pi inside, 0 outside
    assert winding(BALL, np.array([0.2, 0.1, -0.3])) == pytest.approx(1.0, abs=1e-12)
    assert winding(BALL, np.array([2.0, 0.1, -0.3])) == pytest.approx(0.0, abs=1e-12)


def test_nothing_enclosed_is_refused() -> None:
    for faces in (BALL.faces[:1], np.zeros((0, 3), dtype=np.int64)):
        with pytest.raises(MeshError, match="no volume"):
            mend(Surface(BALL.vertices, faces))
    with pytest.raises(MeshError, match="separate bodies"):
        mend(joined(tuple(scaled(box(at=(3.0 * k, 0, 0)), 1.0) for k in range(1200))))


def test_loops_and_edges_are_counted() -> None:
    gone = Surface(BALL.vertices, BALL.faces[1:])
    assert len(open_edges(gone)) == 3
    assert [len(loop) for loop in boundary_loops(gone)] == [3]
    found, uses = edges(gone)
    assert len(found) == 3 * len(BALL.faces) // 2
    assert (uses == 1).sum() == 3
    new = boundary_loops(gone)[0]
    assert set(new.tolist()) == set(BALL.faces[0].tolist())
    assert is_closed(Surface(BALL.vertices, np.concatenate([gone.faces, new[None]])))


def test_another_size_scales_the_whole_account() -> None:
    broken = Surface(BALL.vertices, BALL.faces[5:])
    small, large = mend(broken), mend(scaled(broken, 10.0))
    grown = mended_at(small, 10.0)
    assert grown.repairs[0].area_change == pytest.approx(large.repairs[0].area_change)
    assert grown.repairs[0].volume_change == pytest.approx(large.repairs[0].volume_change)
    assert grown.bodies[0].volume == pytest.approx(large.bodies[0].volume)
    assert volume_of(grown.surface) == pytest.approx(volume_of(large.surface))


def test_shrinkage_of_mold_and_resin() -> None:
    assert cavity_factor("master", mold_shrinkage=0.003, resin_shrinkage=0.01) == pytest.approx(0.997)
    cavity = cavity_factor("casting", mold_shrinkage=0.003, resin_shrinkage=0.01)
    assert cavity * (1 - 0.01) == pytest.approx(1.0)
    assert cavity_factor("cavity", mold_shrinkage=0.003, resin_shrinkage=0.01) == 1.0
    with pytest.raises(InputError, match="as a share"):
        cavity_factor("master", mold_shrinkage=0.3, resin_shrinkage=0.0)


def test_a_mirror_keeps_the_outside_outside() -> None:
    mirrored = transformed(BALL, np.diag([-1.0, 1.0, 1.0]), shift=(5.0, 0.0, 0.0))
    assert volume_of(mirrored) == pytest.approx(volume_of(BALL))


def test_faces_that_shrink_to_a_seam_are_refused() -> None:
    slivers = np.array([[0, 0, 0], [1e3, 0, 0], [1e3, 1e-9, 0], [0, 1e-9, 0.0]])
    with pytest.raises(MeshError, match="no volume"):
        mend(Surface(slivers, np.array([[0, 1, 2], [0, 2, 3]])))
