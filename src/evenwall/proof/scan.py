"""Scans against the world outside: standard units, closed formulas, and other libraries' measures."""

from __future__ import annotations

import io
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from evenwall.files.mesh_file import read_mesh
from evenwall.geometry.mend import mend
from evenwall.geometry.rebuild import rebuilt
from evenwall.geometry.solid import Measures, measures
from evenwall.geometry.surface import Surface, joined, transformed
from evenwall.geometry.tree import tree_of
from evenwall.geometry.winding import far_fields, winding, winding_numbers
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within

_CUBE = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
_CUBE_FACES = [
    (0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5), (0, 4, 5), (0, 5, 1), (2, 3, 7), (2, 7, 6), (0, 2, 6),
    (0, 6, 4), (1, 5, 7), (1, 7, 3),
]  # fmt: skip
# cubic metres of a cube of one unit, NIST Special Publication 811 (2008), appendix B.8
_UNIT_VOLUMES = {"inch": 1.638706e-05, "foot": 2.831685e-02, "centimeter": 1e-6, "micron": 1e-18}


def rows(*, full: bool) -> Iterator[Row]:
    """Units of 3MF, crossing and broken balls, and real models where they are at hand."""
    yield from _standard_units()
    yield from _crossing_balls(rounds=5 if full else 4)
    yield from _mended_ball()
    yield from _rebuilt(full=full)
    yield from _real_models()


def _standard_units() -> Iterator[Row]:
    for unit, volume in _UNIT_VOLUMES.items():
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "cube.3mf"
            path.write_bytes(_cube_3mf(unit))
            got = measures(read_mesh(path).surface).volume
        yield within(
            f"a cube of one {unit} in a 3MF file",
            volume,
            got,
            1e-6,
            unit="m3",
            source="3MF core specification 1.3, section 3.4; NIST SP 811 (2008), appendix B.8",
        )


def _cube_3mf(unit: str) -> bytes:
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in _CUBE)
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in _CUBE_FACES)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(
            "_rels/.rels",
            '<Relationships><Relationship Target="/3D/m.model" '
            'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>',
        )
        archive.writestr(
            "3D/m.model",
            f'<model unit="{unit}"><resources><object id="1"><mesh><vertices>{points}</vertices><triangles>'
            f'{triangles}</triangles></mesh></object></resources><build><item objectid="1"/></build></model>',
        )
    return out.getvalue()


def _crossing_balls(*, rounds: int) -> Iterator[Row]:
    """Two equal spheres, centres one radius apart: the lens is 5/12 pi r3, so the union 9/4 pi r3."""
    radius = 0.04
    first = ball(radius, rounds=rounds)
    second = transformed(first, _TURN, shift=(radius, 0.0, 0.0))
    got = mend(joined((first, second)))
    yield within(
        "volume of two balls that cross, made one",
        2.25 * np.pi * radius**3,
        measures(got.surface).volume,
        5e-3 if rounds == 4 else 2e-3,
        unit="m3",
        source="lens of two spheres, V = pi (2r - d)^2 (d^2 + 4 d r) / (12 d): MathWorld, Sphere-Sphere Intersection",
    )
    yield within(
        "area of two balls that cross, made one",
        6.0 * np.pi * radius**2,
        measures(got.surface).area,
        5e-3 if rounds == 4 else 2e-3,
        unit="m2",
        source="area of a spherical cap, A = 2 pi r h: Archimedes, On the Sphere and Cylinder I, 42-43",
    )
    yield Row(
        check="winding number at a point inside a ball",
        expected=1.0,
        got=winding(first, np.array([0.01, 0.02, -0.01])),
        unit="",
        tolerance=1e-12,
        source="van Oosterom & Strackee 1983, IEEE Trans. Biomed. Eng. 30(2) 125-126, eq. 8",
        status="published",
    )


_TURN = np.array([[0.0, -0.8, 0.6], [1.0, 0.0, 0.0], [0.0, 0.6, 0.8]])


def _mended_ball() -> Iterator[Row]:
    """A ball with one face in fifty missing and one in seven turned round, against trimesh's whole one."""
    from trimesh import Trimesh

    whole = ball(0.05, rounds=4)
    rng = np.random.default_rng(5)
    faces = whole.faces.copy()
    turned = rng.random(len(faces)) < 1 / 7
    faces[turned] = faces[turned][:, ::-1]
    kept = faces[rng.random(len(faces)) > 1 / 50]
    got = measures(mend(Surface(whole.vertices, kept)).surface)
    reference = Trimesh(whole.vertices, whole.faces, process=False)
    for name, expected, value in (
        ("volume", float(reference.volume), got.volume),
        ("area", float(reference.area), got.area),
    ):
        yield within(
            f"{name} of a mended ball",
            expected,
            value,
            1e-3,
            unit="m3" if name == "volume" else "m2",
            source="trimesh, area and volume of the undamaged mesh",
        )


def _rebuilt(*, full: bool) -> Iterator[Row]:
    """A torus of loose triangles, one in ten missing, as a wall built anew."""
    from trimesh.creation import torus

    mesh = torus(0.04, 0.015, major_sections=160, minor_sections=80)
    corner = np.asarray(mesh.vertices)[np.asarray(mesh.faces)]
    corner = corner[np.random.default_rng(3).random(len(corner)) > 0.1]
    soup = Surface(corner.reshape(-1, 3), np.arange(3 * len(corner)).reshape(-1, 3))
    made = rebuilt(soup, spacing=0.7e-3 if full else 1.5e-3)
    got = measures(made.surface)
    yield within(
        "volume of a torus built anew from loose triangles with gaps",
        2 * np.pi**2 * 0.04 * 0.015**2,
        got.volume,
        5e-3,
        unit="m3",
        source="closed form; method: Barill et al. 2018, ACM Trans. Graph. 37(4) 43",
    )
    yield within(
        "area of a torus built anew from loose triangles with gaps",
        4 * np.pi**2 * 0.04 * 0.015,
        got.area,
        2e-2,
        unit="m2",
        source="closed form; method: Barill et al. 2018, ACM Trans. Graph. 37(4) 43",
    )
    tree = tree_of(soup)
    points = np.array([[0.04, 0.0, 0.004], [0.0, 0.0, 0.0], [-0.03, 0.02, -0.006]])
    exact = [winding(soup, point) for point in points]
    quick = winding_numbers(tree, far_fields(tree), points)
    yield Row(
        check="fast winding numbers, greatest departure from the sum of solid angles",
        expected=0.0,
        got=float(np.abs(quick - exact).max()),
        unit="",
        tolerance=0.01,
        source="van Oosterom & Strackee 1983, IEEE Trans. Biomed. Eng. 30(2) 125-126, eq. 8",
        status="published",
    )


def model_folder() -> Path:
    """Where models lie: EVENWALL_MESHES, by default ../shared/meshes beside the source; it need not exist."""
    beside = Path(__file__).resolve().parents[4] / "shared" / "meshes"
    return Path(os.environ.get("EVENWALL_MESHES", beside))


def _real_models() -> Iterator[Row]:
    """The models of `model_folder` that measures.json knows."""
    folder = model_folder()
    table = folder / "measures.json"
    if not table.is_file():
        return
    for name, known in json.loads(table.read_text())["meshes"].items():
        if known.get("closed_surface") and (folder / name).is_file():
            got = measures(read_mesh(folder / name, height=0.15, up=known["up_axis"]).surface)
            for library in ("trimesh", "libigl"):
                yield from _against(name, library, known["scaled"][library], got)


def _against(name: str, library: str, known: dict[str, object], got: Measures) -> Iterator[Row]:
    source = f"{library}, measures.json beside the model"
    size = float(np.linalg.norm(got.extents))
    for what, expected, value, scale, unit in (
        ("area", np.asarray(known["area"]) * 1e-6, got.area, 0.0, "m2"),
        ("volume", np.asarray(known["volume"]) * 1e-9, got.volume, 0.0, "m3"),
        (
            "farthest coordinate of the centroid",
            np.asarray(known["centroid"]) * 1e-3,
            got.centroid,
            size,
            "m",
        ),
        ("inertia", np.asarray(known["inertia"]) * 1e-15, got.inertia, 0.0, "m5"),
    ):
        difference = np.abs(np.asarray(value) - expected)
        at = np.unravel_index(int(difference.argmax()), difference.shape)
        yield Row(
            check=f"{what} of {name} ({library})",
            expected=float(expected[at]),
            got=float(np.asarray(value)[at]),
            unit=unit,
            tolerance=1e-6 * max(float(np.abs(expected).max()), scale),
            source=source,
            status="published",
        )
