"""What every mesh reader must hold: limits before reading, and a sound raw mesh after it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import MeshError
from evenwall.geometry.surface import FloatArray, IntArray

MOST_BYTES: Final = 600_000_000  # of a file as it lies on the disk
MOST_UNPACKED: Final = 400_000_000  # of a packed file, unpacked
ALWAYS_UNPACKED: Final = 64_000_000  # allowed whatever the ratio of unpacked to packed
MOST_RATIO: Final = 25  # unpacked to packed; text meshes reach about 10
MOST_FACES: Final = 3_000_000
MOST_COORDINATE: Final = 1e12  # in file units; its cube still fits a float


@dataclass(frozen=True, kw_only=True, eq=False)
class RawMesh:
    """A mesh as its file gives it: numbers in file units, nothing repaired."""

    vertices: FloatArray  # positions in file units, shape (n, 3)
    faces: IntArray  # indices into vertices, shape (m, 3)
    kind: str  # the format, e.g. "binary STL"
    shares_vertices: bool  # False where the format repeats a vertex for every face
    unit: str | None = None  # from the format's own standard field
    up: str | None = None  # axis that the format's standard calls up
    warnings: tuple[str, ...] = ()


def most_unpacked(packed: int) -> int:
    """Bytes that `packed` bytes may unpack to before they count as a bomb."""
    return min(MOST_UNPACKED, max(ALWAYS_UNPACKED, MOST_RATIO * packed))


def check_face_count(count: int, name: str) -> None:
    """Raise MeshError where a file has or announces more faces than a forecast can use."""
    if count > MOST_FACES:
        raise MeshError(
            f"{name}: {count:,} faces are more than the {MOST_FACES:,} that are read: "
            "reduce the scan to a million faces, which is finer than any forecast"
        )


def check_declared(declared: int, whole: int, what: str, name: str) -> None:
    """Raise MeshError, naming both counts, where a file holds fewer than it announces."""
    if declared > whole:
        raise MeshError(
            f"{name}: the header announces {declared:,} {what} but the file holds {whole:,} whole ones: "
            "it is cut short or damaged, fetch or export it again"
        )


def check_raw(raw: RawMesh, name: str) -> RawMesh:
    """The raw mesh, or MeshError naming the first bad face."""
    vertices, faces = raw.vertices, raw.faces
    if not len(faces):
        raise MeshError(f"{name}: the file holds no triangles: export the piece as a triangle mesh")
    check_face_count(len(faces), name)
    outside = ((faces < 0) | (faces >= len(vertices))).any(axis=1)
    if outside.any():
        first = int(np.argmax(outside))
        bad = next(int(v) for v in faces[first] if not 0 <= v < len(vertices))
        raise MeshError(
            f"{name}: face {first + 1:,} names vertex {bad + 1:,} where there are {len(vertices):,}: "
            "the file is damaged, export it again"
        )
    good = np.asarray((np.abs(vertices) <= MOST_COORDINATE).all(axis=1))  # False for nan, too
    bad_faces = ~good[faces].all(axis=1)
    if bad_faces.any():
        first = int(np.argmax(bad_faces))
        corner = next(int(v) for v in faces[first] if not good[v])
        axis = next(k for k in range(3) if not abs(vertices[corner, k]) <= MOST_COORDINATE)
        raise MeshError(
            f"{name}: face {first + 1:,} has a corner with {'xyz'[axis]} = {vertices[corner, axis]:g} "
            f"({int(bad_faces.sum()):,} such faces), a number within ±{MOST_COORDINATE:g} is needed: "
            "mend or export the mesh again"
        )
    return raw
