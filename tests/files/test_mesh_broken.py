"""Every kind of broken file: what is done, said or refused, with the true numbers where they exist."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from mesh_writers import obj, stl, stl_text

from evenwall.errors import MeshError
from evenwall.files.mesh_file import MeshReading, read_mesh
from evenwall.files.mesh_json import measure_as_json
from stand_ins import ball, mesh_folder

V, F = ball(16, radius=40.0)
W, _ = ball(16, radius=12.0)


def _volume(vertices: Any, faces: Any) -> float:
    return float(np.linalg.det(vertices[faces]).sum() / 6.0)


def _shifted(vertices: Any, faces: Any, other: Any) -> tuple[Any, Any]:
    return np.concatenate([vertices, other]), np.concatenate([faces, faces + len(vertices)])


TRUE = _volume(V, F)
NAN = np.where(np.arange(len(V))[:, None] == 5, np.nan, V)
TEXT = stl_text(V, F).encode()
EDGE_CUBES = (
    "".join(f"v {x} {y} {z}\n" for x, y, z in [(x, y, z) for x in (0, 30) for y in (0, 30) for z in (0, 30)])
    + "".join(f"v {x} {y} {z}\n" for x, y, z in [(x, y, z) for x in (30, 60) for y in (30, 60) for z in (0, 30)])
    + "".join(
        f"f {' '.join(str(i + 8 * k) for i in quad)}\n"
        for k in (0, 1)
        for quad in [(1, 2, 4, 3), (5, 7, 8, 6), (1, 5, 6, 2), (3, 4, 8, 7), (1, 3, 7, 5), (2, 6, 8, 4)]
    )
)  # fmt: skip
# stand-ins for each kind of file, by the name it has in the folder of real models
STAND_INS: dict[str, bytes] = {
    "control_sphere.stl": stl(V, F),
    "trailing_bytes.stl": stl(V, F) + b"x" * 777,
    "ascii_crlf_upper.stl": TEXT.upper().replace(b"\n", b"\r\n"),
    "binary_starting_with_solid.stl": stl(V, F, header=b"solid"),
    "duplicate_faces.stl": stl(V, np.concatenate([F, F[:100]])),
    "zero_area_faces.stl": stl(V, np.concatenate([F, F[:40, [0, 1, 1]]])),
    "inside_out.stl": stl(V, F[:, ::-1]),
    "one_missing_face.obj": obj(V, F[1:]),
    "open_base.obj": obj(V, F[(V[F][:, :, 1] > -25).all(axis=1)]),
    "far_from_origin.obj": obj(V + 2e6, F),
    "two_bodies.stl": stl(*_shifted(V, F, W + np.array([80.0, 0.0, 0.0]))),
    "self_intersecting_spheres.stl": stl(*_shifted(V, F, V[:, [1, 2, 0]] + np.array([40.0, 0.0, 0.0]))),
    "nonmanifold_edge.obj": EDGE_CUBES.encode(),
    "tiny_in_metres.stl": stl(V / 1000, F),
    "truncated_binary.stl": stl(V, F)[:-1234],
    "declares_1e9_triangles.stl": stl(V, F, declared=10**9),
    "ascii_nan.stl": stl_text(NAN, F).encode(),
    "ascii_cut_mid_facet.stl": TEXT[: len(TEXT) // 2],
    "flat_sheet.stl": stl(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]])),
    "single_triangle.stl": stl(V, F[:1]),
    "empty.stl": b"",
    "header_only.stl": stl(V, F[:0]),
    "short_header.stl": b"solid",
    "zero_byte_stl_named.obj": b"",
    "not_a_zip.3mf": b"PK\3\4" + bytes(200),
}
REFUSED = (
    "truncated_binary.stl", "declares_1e9_triangles.stl", "ascii_nan.stl", "ascii_cut_mid_facet.stl",
    "flat_sheet.stl", "single_triangle.stl", "empty.stl", "header_only.stl", "short_header.stl",
    "zero_byte_stl_named.obj", "not_a_zip.3mf",
)  # fmt: skip
WHOLE = (
    "control_sphere.stl", "trailing_bytes.stl", "ascii_crlf_upper.stl", "binary_starting_with_solid.stl",
    "duplicate_faces.stl", "zero_area_faces.stl", "inside_out.stl", "one_missing_face.obj",
    "far_from_origin.obj",
)  # fmt: skip


def path_of(name: str, folder: Path) -> tuple[Path, dict[str, Any]]:
    """The real broken file with its expected figures, or its stand-in."""
    real = mesh_folder() / "broken" / name
    if real.is_file():
        known = json.loads((real.parent / "expected.json").read_text())[name]
        return real, {**known, "true": known.get("true_volume_mm3", known.get("volume_if_closed"))}
    made = folder / name
    made.write_bytes(STAND_INS[name])
    volume = _volume(V, F[1:]) if name == "one_missing_face.obj" else TRUE
    return made, {"true": volume}


def read(name: str, folder: Path, **options: Any) -> MeshReading:
    return read_mesh(path_of(name, folder)[0], unit="mm", **options)


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name: str, tmp_path: Path) -> None:
    path, known = path_of(name, tmp_path)
    with pytest.raises(MeshError) as caught:
        read_mesh(path, unit="mm")
    for count in (known[k] for k in ("declared", "whole_records") if k in known):
        assert f"{count:,}" in str(caught.value)


@pytest.mark.parametrize("name", WHOLE)
def test_read_with_the_true_volume(name: str, tmp_path: Path) -> None:
    path, known = path_of(name, tmp_path)
    plain = measure_as_json(read_mesh(path, unit="mm"))
    tolerance = 1e-3 if name == "one_missing_face.obj" else 1e-6
    assert plain["volume_m3"] * 1e9 == pytest.approx(known["true"], rel=tolerance)
    assert plain["closed"]


def test_every_repair_is_listed_and_can_be_refused(tmp_path: Path) -> None:
    for name, repair in (
        ("duplicate_faces.stl", "drop double faces"),
        ("zero_area_faces.stl", "drop faces without area"),
        ("inside_out.stl", "turn inside out"),
        ("one_missing_face.obj", "fill small holes"),
    ):
        done = read(name, tmp_path)
        assert [r.name for r in done.repairs] == [repair]
        assert done.repairs[0].count >= 1
        left = read(name, tmp_path, refused=frozenset({repair}))
        assert repair not in [r.name for r in left.repairs]


def test_turning_out_says_twice_the_volume(tmp_path: Path) -> None:
    done = read("inside_out.stl", tmp_path)
    volume = measure_as_json(done)["volume_m3"]
    assert done.repairs[0].volume_change == pytest.approx(2 * volume)
    assert volume > 0


def test_an_open_base_is_capped_and_asked_about(tmp_path: Path) -> None:
    got = read("open_base.obj", tmp_path, answers={"opening": "trimmed"})
    assert not got.watertight
    assert got.closed
    assert len(got.openings) == 1
    cap = got.openings[0]
    assert cap.role == "trimmed"
    assert 0.055 < cap.span < 0.075
    assert len(cap.faces) == cap.edges - 2
    corners = got.surface.vertices[got.surface.faces[cap.faces]]
    normals = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (normals.sum(axis=0) @ cap.normal) == pytest.approx(cap.area, rel=0.2)
    assert np.linalg.norm(corners.reshape(-1, 3).mean(axis=0) - cap.middle) < 0.2 * cap.span


def test_two_bodies_are_asked_about(tmp_path: Path) -> None:
    largest, both = (
        read("two_bodies.stl", tmp_path),
        read("two_bodies.stl", tmp_path, answers={"bodies": "all"}),
    )
    assert [b.role for b in largest.bodies] == ["piece", "separate"]
    assert [q.name for q in largest.questions] == ["bodies"]
    a, b = (measure_as_json(r)["volume_m3"] for r in (largest, both))
    assert b == pytest.approx(a + largest.bodies[1].volume)


def test_crossing_bodies_are_united_or_warned_of(tmp_path: Path) -> None:
    united = read("self_intersecting_spheres.stl", tmp_path)
    kept = read("self_intersecting_spheres.stl", tmp_path, answers={"crossing": "keep"})
    # two spheres of radius r, centres r apart: union 2 (4/3 pi r3) - 5/12 pi r3 = 9/4 pi r3, less for the facets
    true = 2.25 * np.pi * 0.04**3
    assert measure_as_json(united)["volume_m3"] == pytest.approx(true, rel=0.03)
    assert united.closed
    assert united.crossing is not None
    assert united.crossing.united
    assert measure_as_json(kept)["volume_m3"] > 1.15 * true
    assert any("counts their overlap twice" in w for w in kept.warnings)


def test_parts_that_touch_along_an_edge_are_said(tmp_path: Path) -> None:
    got = read("nonmanifold_edge.obj", tmp_path)
    assert measure_as_json(got)["volume_m3"] == pytest.approx(54e-6)
    assert any("touch along" in w for w in got.warnings)


def test_a_size_in_metres_read_as_mm_is_asked_about(tmp_path: Path) -> None:
    got = read("tiny_in_metres.stl", tmp_path)
    assert got.size_question is not None
    assert got.size_question.endswith("is it in m?")
