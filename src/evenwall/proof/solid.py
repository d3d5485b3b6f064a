"""Outside checks of the piece's size: closed forms, polyhedra, lofts and weighted means."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from evenwall.geometry.estimate import BALL, SHAPES, Known, combined, hollow_casting, sphericity_of_rods
from evenwall.geometry.loft import loft
from evenwall.geometry.pockets import pockets
from evenwall.geometry.remesh import remesh
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import Surface, scaled
from evenwall.proof.table import Row, within

CLOSED_FORM: Final = "closed form of solid geometry"
MIRTICH: Final = "Mirtich 1996, journal of graphics tools 1(2) 31-50, on a polyhedron known exactly"


def rows(*, full: bool) -> Iterator[Row]:
    """Size, mass properties, estimates without a scan and narrow places of shapes that are known exactly."""
    yield from _polyhedra()
    yield from _round_solids()
    yield from _lofts()
    yield from _estimates()
    yield from _sphericities()
    yield from _narrow(nodes=8000 if full else 2500)


def _polyhedra() -> Iterator[Row]:
    tetra = measures(Surface(np.vstack([np.zeros(3), np.eye(3)]), _turned("021 013 032 123")))
    yield within("corner tetrahedron, volume", 1 / 6, tetra.volume, 1e-12, unit="m3", source=MIRTICH)
    yield within("corner tetrahedron, centroid x", 1 / 4, tetra.centroid[0], 1e-12, unit="m", source=MIRTICH)
    about_origin = tetra.inertia[0, 0] + tetra.volume * float(tetra.centroid[1:] @ tetra.centroid[1:])
    yield within(
        "corner tetrahedron, I_xx about its corner", 1 / 30, about_origin, 1e-12, unit="m5", source=MIRTICH
    )
    corner = np.array([[i, j, k] for i in (0.0, 1.0) for j in (0.0, 1.0) for k in (0.0, 1.0)])
    cube = measures(Surface(corner, _turned("013 032 467 475 045 051 237 276 064 026 157 173")))
    yield within("unit cube, area", 6.0, cube.area, 1e-12, unit="m2", source=CLOSED_FORM)
    yield within("unit cube, I about its centre", 1 / 6, cube.inertia[2, 2], 1e-12, unit="m5", source=MIRTICH)
    from trimesh.creation import icosahedron

    mesh = icosahedron()
    points = np.asarray(mesh.vertices) / np.linalg.norm(mesh.vertices, axis=1)[:, None]
    twenty = measures(Surface(points, np.asarray(mesh.faces)))
    yield within(
        "icosahedron in a ball of 1, volume", 2.5361507, twenty.volume, 1e-7, unit="m3", source=CLOSED_FORM
    )
    yield within(
        "icosahedron in a ball of 1, area", 9.5745414, twenty.area, 1e-7, unit="m2", source=CLOSED_FORM
    )


def _round_solids() -> Iterator[Row]:
    from trimesh import creation

    pi, big, small, long = np.pi, 0.05, 0.015, 0.08
    solids = {
        "sphere": (
            _surface(creation.icosphere(subdivisions=5, radius=big)),
            4 / 3 * pi * big**3,
            4 * pi * big**2,
        ),
        "torus": (
            _surface(creation.torus(big, small, major_sections=256, minor_sections=128)),
            2 * pi**2 * big * small**2,
            4 * pi**2 * big * small,
        ),
        "capsule": (
            _capsule(long, small, 128),
            pi * small**2 * long + 4 / 3 * pi * small**3,
            2 * pi * small * long + 4 * pi * small**2,
        ),
    }
    for name, (shape, space, wall) in solids.items():
        found = measures(shape)
        yield within(f"{name}, volume", space, found.volume, 2e-3, unit="m3", source=CLOSED_FORM)
        yield within(f"{name}, area", wall, found.area, 2e-3, unit="m2", source=CLOSED_FORM)
    cone = measures(loft([0.0, long], [2 * pi * big, 2 * pi * small]))
    side = pi * (big + small) * np.hypot(long, big - small)
    yield within(
        "cone frustum through two girths, volume", pi * long * (big**2 + big * small + small**2) / 3,
        cone.volume, 2e-3, unit="m3", source=CLOSED_FORM,
    )  # fmt: skip
    yield within(
        "cone frustum through two girths, area", side + pi * (big**2 + small**2),
        cone.area, 2e-3, unit="m2", source=CLOSED_FORM,
    )  # fmt: skip


def _lofts() -> Iterator[Row]:
    for name, radius, half in (("ball", 0.05, 0.05), ("ellipsoid 2:1", 0.04, 0.08)):
        z = np.linspace(-half, half, 8)
        found = measures(loft(z, 2 * np.pi * radius * np.sqrt(np.maximum(1 - (z / half) ** 2, 0.0))))
        out = np.sqrt(1 - (radius / half) ** 2)
        side = half / radius * np.arcsin(out) / out if out > 0.0 else 1.0
        yield within(
            f"{name} lofted through 8 girths, volume", 4 / 3 * np.pi * radius**2 * half,
            found.volume, 0.03, unit="m3", source=CLOSED_FORM,
        )  # fmt: skip
        yield within(
            f"{name} lofted through 8 girths, area", 2 * np.pi * radius**2 * (1 + side),
            found.area, 0.03, unit="m2", source=CLOSED_FORM,
        )  # fmt: skip


def _estimates() -> Iterator[Row]:
    mean, (first, _) = combined([Known(value=10.0, error=1.0), Known(value=13.0, error=2.0)])
    source = "Bevington & Robinson 2003, Data Reduction and Error Analysis, equations 4.17 and 4.19"
    yield within("weighted mean of 10 +- 1 and 13 +- 2", 10.6, mean.value, 1e-12, source=source)
    yield within("its standard error", 0.8**0.5, mean.error, 1e-12, source=source)
    yield within("share of the surer one", 0.8, first, 1e-12, source=source)
    outer, wall = 0.05, 0.003
    shell = 1050.0 * 4 / 3 * np.pi * (outer**3 - (outer - wall) ** 3)
    found = hollow_casting(shell, 1050.0, [wall, wall]).area
    assert found is not None
    yield within(
        "wall area from a hollow ball's weight and calipers", 4 * np.pi * outer**2,
        found.value, 1e-9, unit="m2", source="Steiner's formula; " + CLOSED_FORM,
    )  # fmt: skip


def _sphericities() -> Iterator[Row]:
    """The figures behind the shape classes of an estimate."""
    table = "Kunii & Levenspiel 1991, Fluidization Engineering, table 3.1 (Brown 1950)"
    for name, length, count, psi in (
        ("cylinder as long as wide", 1.0, 1, 0.87),
        ("rod five times as long as wide", 5.0, 1, 0.70),
        ("rod ten times as long as wide", 10.0, 1, 0.58),
        ("disc three times as wide as high", 1 / 3, 1, 0.76),
        ("disc ten times as wide as high", 0.1, 1, 0.47),
    ):
        yield Row(
            check=f"sphericity of a {name}",
            expected=psi,
            got=sphericity_of_rods(length, count),
            unit="",
            tolerance=6e-3,
            source=table,
            status="from memory",
        )
    out = np.sqrt(0.75)
    spheroid = 2 * np.pi * (1 + 2 * np.arcsin(out) / out)
    yield within(
        "sphericity of a prolate spheroid 2:1", SHAPES["ball"][1],
        BALL * np.cbrt((8 / 3 * np.pi) ** 2) / spheroid, 5e-3, source=CLOSED_FORM,
    )  # fmt: skip
    yield within(
        "sphericity of a block 1:1:4",
        SHAPES["block"][1],
        BALL * np.cbrt(16.0) / 18.0,
        2e-2,
        source=CLOSED_FORM,
    )
    yield within("sphericity of a cube", SHAPES["block"][2], BALL / 6.0, 1e-2, source=CLOSED_FORM)


def _narrow(*, nodes: int) -> Iterator[Row]:
    found = pockets(remesh(_capsule(0.03, 0.002, 32), nodes=nodes).surface)
    yield within(
        "width of a bore 4 mm across", 4e-3, found.hollows[0].width, 0.03, unit="m", source=CLOSED_FORM
    )


def _capsule(length: float, radius: float, rings: int) -> Surface:
    """A closed capsule whose straight part is `length` [m]; made at radius 1, where trimesh joins its poles."""
    from trimesh.creation import capsule

    mesh = capsule(height=length / radius, radius=1.0, count=(rings, rings))
    return scaled(_surface(mesh), radius)


def _surface(mesh: Any) -> Surface:
    return Surface(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def _turned(faces: str) -> npt.NDArray[np.int64]:
    return np.array([[int(digit) for digit in face] for face in faces.split()], dtype=np.int64)
