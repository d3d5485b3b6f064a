from __future__ import annotations

import gzip
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from mesh_writers import CUBE, CUBE_FACES, CUBES, ITEM, glb, model_xml, obj, ply, stl, threemf

from evenwall.errors import EvenwallError, InputError, MeshError
from evenwall.files.mesh_file import MeshReading, place_in_file, read_mesh
from evenwall.files.mesh_json import measure_as_json
from evenwall.geometry.solid import measures


def reading(folder: Path, name: str, data: bytes, **options: object) -> MeshReading:
    path = folder / name
    path.write_bytes(data)
    return read_mesh(path, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("name", CUBES)
def test_every_format_gives_the_same_cube(tmp_path: Path, name: str, packed: bool) -> None:
    unit = None if name.endswith(("3mf", "glb")) else "mm"
    data = gzip.compress(CUBES[name]) if packed else CUBES[name]
    got = reading(tmp_path, name + (".gz" if packed else ""), data, unit=unit)
    assert measures(got.surface).volume == pytest.approx(64e-6, rel=1e-7)
    assert got.watertight
    assert got.closed
    assert not got.repairs
    assert not got.questions
    assert got.unit == ("m" if name.endswith("glb") else "mm")


def test_the_unit_is_never_guessed(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--unit mm"):
        reading(tmp_path, "cube.stl", CUBES["cube.stl"])
    with pytest.raises(InputError, match="parsec"):
        reading(tmp_path, "cube.stl", CUBES["cube.stl"], unit="parsec")


def test_an_odd_size_is_asked_about_and_not_changed(tmp_path: Path) -> None:
    got = reading(tmp_path, "cube.stl", CUBES["cube.stl"], unit="m")
    assert got.size_question is not None
    assert "40 m" in got.size_question
    assert got.size_question.endswith("is it in mm?")
    assert measures(got.surface).volume == pytest.approx(64_000.0)


def test_height_and_distance_give_the_scale(tmp_path: Path) -> None:
    by_height = reading(tmp_path, "cube.obj", CUBES["cube.obj"], height=0.1, up="-y")
    by_distance = reading(
        tmp_path, "cube.obj", CUBES["cube.obj"], distance=((0.0, 0.0, 0.0), (40.0, 40.0, 0.0), 0.1)
    )
    assert measures(by_height.surface).volume == pytest.approx(1e-3)
    assert measures(by_distance.surface).volume == pytest.approx(1e-3 / 2**1.5)
    with pytest.raises(InputError, match="up"):
        reading(tmp_path, "cube.obj", CUBES["cube.obj"], height=0.1)


def test_3mf_units_transforms_and_components_are_applied(tmp_path: Path) -> None:
    # 3MF core specification 1.3, section 3.3: row vectors; mirroring keeps the outside outside
    more = (
        '<object id="2"><components><component objectid="1" transform="-2 0 0 0 1 0 0 0 1 0 0 0"/>'
        "</components></object>"
    )
    build = '<item objectid="2" transform="1 0 0 0 3 0 0 0 1 5 0 0"/>'
    data = threemf(model_xml(CUBE, CUBE_FACES, unit="inch", build=build, more=more))
    got = reading(tmp_path, "a.3mf", data)
    assert measures(got.surface).volume == pytest.approx(6 * 0.0254**3, rel=1e-9)
    assert measures(got.surface).centroid == pytest.approx(np.array([4.0, 1.5, 0.5]) * 0.0254)
    assert not got.repairs


def test_glb_node_transforms_are_applied(tmp_path: Path) -> None:
    # glTF 2.0, section 3.5.3: translation * rotation * scale, here a quarter turn about z
    half = 0.5**0.5
    nodes: list[dict[str, object]] = [
        {"children": [1], "translation": [1, 0, 0]},
        {"mesh": 0, "rotation": [0, 0, half, half], "scale": [0.2, 0.1, 0.1]},
    ]
    got = reading(tmp_path, "a.glb", glb(CUBE, CUBE_FACES, nodes=nodes))
    assert measures(got.surface).volume == pytest.approx(2e-3, rel=1e-6)
    assert measures(got.surface).centroid == pytest.approx([0.95, 0.1, 0.05], abs=1e-6)
    assert got.up == "y"


def _components(levels: int) -> str:
    last = '<object id="a0"><components><component objectid="1"/></components></object>'
    chain = "".join(
        f'<object id="a{k}"><components>'
        + f'<component objectid="a{k - 1}"/>' * 10
        + "</components></object>"
        for k in range(1, levels)
    )
    return last + chain


LOOP = '<object id="2"><components><component objectid="2"/></components></object>'
CUBE_3MF = model_xml(CUBE, CUBE_FACES, unit="millimeter", build=ITEM)
PACKED_ODDLY = threemf(CUBE_3MF, packing=zipfile.ZIP_LZMA)
HOSTILE = {
    "entities.3mf": (threemf('<!DOCTYPE m [<!ENTITY a "b">]>' + CUBE_3MF), "document type"),
    "climbs.3mf": (threemf(CUBE_3MF.replace("<item ", '<item path="/../../x.model" ')), "outside the package"),
    "multiplies.3mf": (
        threemf(model_xml(CUBE, CUBE_FACES, unit="mm".replace("mm", "millimeter"),
                          build='<item objectid="a9"/>', more=_components(10))), "faces are more"),
    "loops.3mf": (
        threemf(model_xml(CUBE, CUBE_FACES, unit="millimeter", build='<item objectid="2"/>', more=LOOP)),
        "holds itself",
    ),
    "bomb.3mf": (threemf(CUBE_3MF, extra={"Thumbnails/t.png": bytes(300_000_000)}), "unpack to"),
    "unit.3mf": (threemf(CUBE_3MF.replace("millimeter", "parsec")), "parsec"),
    "nothing.3mf": (threemf("<model/>"), "no triangles"),
    "cut.3mf": (CUBES["cube.3mf"][:300], "zip"),
    "damaged.3mf": (PACKED_ODDLY.replace(PACKED_ODDLY[300:308], b"\xff" * 8), "zip"),
    "bomb.stl.gz": (gzip.compress(bytes(100_000_000)), "unpack to more"),
    "cut.stl.gz": (gzip.compress(CUBES["cube.stl"])[:-20], "cut short"),
    "plain.stl.gz": (CUBES["cube.stl"], "not packed"),
    "packed.stl": (gzip.compress(CUBES["cube.stl"]), "packed with gzip"),
    "cut.stl": (CUBES["cube.stl"][:-60], "announces 12 triangles but the file holds 10"),
    "lies.stl": (stl(CUBE, CUBE_FACES, declared=7), "announces 7 triangles but the file holds 12"),
    "huge.stl": (stl(CUBE, CUBE_FACES, declared=10**9), "1,000,000,000 triangles but the file holds 12"),
    "misnamed.stl": (CUBES["cube.obj"], "content is OBJ"),
    "misnamed.obj": (CUBES["little.ply"], "content is PLY"),
    "empty.ply": (b"", "empty"),
    "what.step": (b"ISO-10303-21;", "ending"),
    "cut.ply": (CUBES["little.ply"][:-20], "announces 12 face records but the file holds 10"),
    "lies.ply": (ply(CUBE, CUBE_FACES, order="", count=400), "announces 400 face records"),
    "points.ply": (b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\n"
                   b"property float z\nend_header\n1 2 3\n", "without triangles"),
    "nan.stl": (stl(np.where(CUBE == 1, np.nan, CUBE), CUBE_FACES), "face 1 has a corner with"),
    "infinite.obj": (obj(CUBE, CUBE_FACES).replace(b"v 1.0 1.0 1.0", b"v 1.0 1e999 1"), "y = inf"),
    "comma.obj": (b"v 0,5 1 2\nf 1 1 1\n", "line 1"),
    "beyond.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", "face 1 names vertex 4 where there are 3"),
    "zero.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n", "names vertex 0"),
    "curves.obj": (b"v 0 0 0\ncstype bezier\ncurv 0 1 1 1\n", "curved surfaces"),
    "cut.text.stl": (CUBES["text.stl"][:-200], "without endsolid after"),
    "word.stl": (CUBES["text.stl"].replace(b"endloop", b"endlop", 1), "facet 1 has 'endlop'"),
    "cut.glb": (CUBES["cube.glb"][:-8], "announces"),
    "cycle.glb": (glb(CUBE, CUBE_FACES, nodes=[{"mesh": 0, "children": [0]}]), "not in a tree"),
    "flat.obj": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nv 1 1 0\nf 1 2 3\nf 2 4 3\n", "no volume"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_damaged_and_hostile_files_are_refused_in_one_sentence(tmp_path: Path, name: str) -> None:
    data, says = HOSTILE[name]
    with pytest.raises(MeshError) as caught:
        reading(tmp_path, name, data, unit="mm")
    text = str(caught.value)
    assert says in text
    assert text.startswith(name)
    assert "\n" not in text
    assert text.count(": ") >= 1


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshError, match="not a file"):
        read_mesh(tmp_path / "folder.stl", unit="mm")
    with pytest.raises(MeshError, match="no such file"):
        read_mesh(tmp_path / "nowhere.stl", unit="mm")


def test_polygons_with_a_dent_keep_their_volume(tmp_path: Path) -> None:
    # a prism on an L of area 3, so concave hexagons at both ends
    outline = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]
    lines = [f"v {x} {y} {z}" for z in (0, 1) for x, y in outline]
    lines += ["f 6 5 4 3 2 1", "f 7 8 9 10 11 12"]
    lines += [f"f {k + 1} {(k + 1) % 6 + 1} {(k + 1) % 6 + 7} {k + 7}" for k in range(6)]
    got = reading(tmp_path, "l.obj", "\n".join(lines).encode(), unit="cm")
    assert got.watertight
    assert measures(got.surface).volume == pytest.approx(3e-6)
    assert measures(got.surface).area == pytest.approx(14e-4)


def test_what_was_found_comes_out_as_plain_data(tmp_path: Path, real_mesh: Callable[[str], Path]) -> None:
    got = read_mesh(real_mesh("demosthenes-low-res.obj"), height=0.15, up="y")
    plain = json.loads(json.dumps(measure_as_json(got)))
    assert plain["watertight"] is False
    assert plain["closed"] is True
    assert plain["open_edges"] > 0
    assert plain["extents_m"][1] == pytest.approx(0.15)
    assert plain["questions"][0]["name"] == "opening 1"
    assert plain["questions"][0]["answer"] == plain["questions"][0]["default"] == "base counts"
    answered = read_mesh(
        real_mesh("demosthenes-low-res.obj"), height=0.15, up="y", answers={"opening 1": "pour hole"}
    )
    assert [o.role for o in answered.openings] == ["pour hole"]
    with pytest.raises(InputError, match="can't be 'lid'"):
        read_mesh(tmp_path / "any.obj", answers={"opening": "lid"})


def test_no_answer_to_an_unknown_question_or_repair(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no question"):
        reading(tmp_path, "cube.stl", CUBES["cube.stl"], unit="mm", answers={"colour": "red"})
    with pytest.raises(EvenwallError, match="polish"):
        reading(tmp_path, "cube.stl", CUBES["cube.stl"], unit="mm", refused=frozenset({"polish"}))


def test_up_is_turned_to_z_and_a_place_finds_back_into_the_file(tmp_path: Path) -> None:
    block = CUBE * [1.0, 2.0, 3.0]
    for up, height in (("x", 1.0), ("-x", 1.0), ("y", 2.0), ("-y", 2.0), ("z", 3.0), ("-z", 3.0)):
        got = reading(tmp_path, "block.obj", obj(block, CUBE_FACES), unit="mm", up=up, turned=True)
        extents = measures(got.surface).extents
        assert extents[2] == pytest.approx(1e-3 * height * np.ptp(CUBE[:, 0]))
        assert measures(got.surface).volume > 0.0
        way = np.zeros(3)
        way["xyz".index(up[-1])] = -1.0 if up.startswith("-") else 1.0
        assert got.turn @ way == pytest.approx([0.0, 0.0, 1.0])
        assert np.linalg.det(got.turn) == pytest.approx(1.0)
        places = np.array([place_in_file(got, vertex) for vertex in got.surface.vertices])
        assert sorted(map(tuple, places.round(6))) == sorted(map(tuple, np.asarray(block, float).round(6)))
