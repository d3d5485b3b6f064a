"""3MF (3MF Consortium, core specification 1.3; ISO/IEC 25422): a zip with objects, a build and a unit."""

from __future__ import annotations

import io
import lzma
import zipfile
import zlib
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from posixpath import normpath
from typing import Final
from xml.parsers import expat

import numpy as np

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import RawMesh, check_face_count, most_unpacked
from evenwall.geometry.surface import FloatArray, IntArray

UNITS: Final = {
    "micron": "um", "millimeter": "mm", "centimeter": "cm", "inch": "in", "foot": "ft", "meter": "m",
}  # fmt: skip
_MOST_ENTRIES: Final = 10_000
_MOST_PLACED: Final = 100_000  # objects placed by components and the build
_MOST_DEPTH: Final = 50
_MOST_ELEMENTS: Final = 8_000_000  # of one part
_MODEL: Final = "/3dmodel"
_STEP: Final = 1 << 20
#: what zipfile raises for a damaged zip, an encrypted one or one packed in a way that it doesn't know
_ZIP_FAULTS: Final = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, OSError, RuntimeError, ValueError, OverflowError,
)  # fmt: skip

Key = tuple[str, str]  # part of the package and object id


@dataclass
class _Object:
    kind: str
    vertices: array[float] = field(default_factory=lambda: array("d"))  # x, y, z of each in turn
    triangles: array[int] = field(default_factory=lambda: array("q"))  # v1, v2, v3 of each in turn
    components: list[tuple[Key, FloatArray]] = field(default_factory=list)


@dataclass
class _Model:
    unit: str = "mm"
    objects: dict[Key, _Object] = field(default_factory=dict)
    build: list[tuple[Key, FloatArray]] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)  # further parts that components name


def parse_3mf(data: bytes, name: str) -> RawMesh:
    """Triangles of the build, transforms applied; raises MeshError for bombs, loops and damaged files."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except _ZIP_FAULTS as error:
        raise _not_unpacked(error, name) from None
    try:
        with archive:
            return _read(archive, len(data), name)
    except (KeyError, ValueError, OverflowError) as error:  # an attribute that is missing or no number
        reason = f"{type(error).__name__}: {str(error)[:60]}"
        raise MeshError(f"{name}: the 3MF can't be read ({reason}): export it again") from None


def _not_unpacked(error: Exception, name: str) -> MeshError:
    return MeshError(f"{name}: the zip of the 3MF can't be unpacked ({error}): fetch it again")


def _unpacked(archive: zipfile.ZipFile, part: str, name: str) -> Iterator[bytes]:
    """The bytes of one part of the package, some at a time."""
    if part not in archive.NameToInfo:
        raise MeshError(f"{name}: the part {part[:60]!r} is missing: the file is damaged")
    try:
        with archive.open(part) as stream:
            while piece := stream.read(_STEP):
                yield piece
    except _ZIP_FAULTS as error:
        raise _not_unpacked(error, name) from None


def _read(archive: zipfile.ZipFile, size: int, name: str) -> RawMesh:
    entries = archive.infolist()
    most = most_unpacked(size)
    total = sum(entry.file_size for entry in entries)
    if len(entries) > _MOST_ENTRIES or total > most:
        raise MeshError(
            f"{name}: {size:,} bytes unpack to {total:,} in {len(entries):,} parts, more than the "
            f"{most:,} in {_MOST_ENTRIES:,} that are read: look what it is, or reduce the mesh"
        )
    root = _root_part(archive, name)
    model = _Model()
    done: set[str] = set()
    todo = [root]
    while todo:
        part = todo.pop()
        if part not in done:
            done.add(part)
            _Reader(model, part, part == root, name).read(archive)
            todo += model.parts
            model.parts = []
    return _placed(model, name)


def _root_part(archive: zipfile.ZipFile, name: str) -> str:
    """The part that the package's relationships call its 3D model."""
    found: list[str] = []

    def start(tag: str, attributes: dict[str, str]) -> None:
        if tag.rpartition(":")[2] == "Relationship" and attributes.get("Type", "").endswith(_MODEL):
            found.append(attributes.get("Target", ""))

    if "_rels/.rels" in archive.NameToInfo:
        _parse_xml(archive, "_rels/.rels", start, lambda _: None, name)
    if not found:
        raise MeshError(f"{name}: the package names no 3D model: export the piece as 3MF again")
    return _inside(found[0], "", name)


def _inside(target: str, base: str, name: str) -> str:
    """Name of a part in the zip; a path that leaves the package is refused."""
    path = normpath(target.lstrip("/") if target.startswith("/") else f"{base}/{target}".lstrip("/"))
    if path.startswith("..") or "\\" in target or ":" in target or "/../" in f"/{target}/":
        raise MeshError(f"{name}: the part {target[:60]!r} lies outside the package: the file is hostile")
    return path


def _parse_xml(
    archive: zipfile.ZipFile,
    part: str,
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None],
    name: str,
) -> None:
    """Walk one part element by element; a document type (the way of entity bombs) is refused."""

    def refuse(*_: object) -> None:
        raise MeshError(f"{name}: {part} declares a document type, which a 3MF must not: the file is hostile")

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    try:
        for piece in _unpacked(archive, part, name):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise MeshError(f"{name}: {part} is no whole XML ({error}): fetch or export it again") from None


class _Reader:
    """Reads one model part into the model."""

    def __init__(self, model: _Model, part: str, is_root: bool, name: str) -> None:
        self.model = model
        self.part = part
        self.is_root = is_root
        self.name = name
        self.current: _Object | None = None
        self.faces = 0
        self.elements = 0

    def read(self, archive: zipfile.ZipFile) -> None:
        _parse_xml(archive, self.part, self.start, self.end, self.name)

    def start(self, tag: str, a: dict[str, str]) -> None:
        self.elements += 1
        if self.elements > _MOST_ELEMENTS:
            check_face_count(self.faces, self.name)
            raise MeshError(
                f"{self.name}: {self.part} has more than the {_MOST_ELEMENTS:,} elements that are read: "
                "reduce the mesh"
            )
        match tag.rpartition(":")[2]:
            case "vertex" if self.current is not None:
                self.current.vertices.extend((float(a["x"]), float(a["y"]), float(a["z"])))
            case "triangle" if self.current is not None:
                self.current.triangles.extend((int(a["v1"]), int(a["v2"]), int(a["v3"])))
                self.faces += 1
            case "model":
                self.model_element(a)
            case "object":
                key = (self.part, a["id"])
                self.current = self.model.objects[key] = _Object(a.get("type", "model"))
            case "component" if self.current is not None:
                self.current.components.append((self.key(a), _matrix(a.get("transform"), self.name)))
            case "item" if self.is_root:
                self.model.build.append((self.key(a), _matrix(a.get("transform"), self.name)))
            case _:
                pass

    def end(self, tag: str) -> None:
        if tag.rpartition(":")[2] == "object":
            self.current = None

    def model_element(self, a: dict[str, str]) -> None:
        unit = a.get("unit", "millimeter")
        if unit not in UNITS:
            raise MeshError(f"{self.name}: the unit {unit[:30]!r} is none of 3MF's {', '.join(UNITS)}")
        if self.is_root:
            self.model.unit = UNITS[unit]
        elif UNITS[unit] != self.model.unit:
            raise MeshError(f"{self.name}: {self.part} is in {unit}, the root is not: export it in one unit")

    def key(self, a: dict[str, str]) -> Key:
        path = next((v for k, v in a.items() if k.rpartition(":")[2] == "path"), None)
        part = self.part if path is None else _inside(path, self.part.rpartition("/")[0], self.name)
        if part != self.part:
            self.model.parts.append(part)
        return part, a["objectid"]


def _matrix(text: str | None, name: str) -> FloatArray:
    """Rows of a 3MF transform (4, 3): a point as a row times this gives the placed point."""
    if text is None:
        return np.concatenate([np.eye(3), np.zeros((1, 3))])
    values = np.array([float(word) for word in text.split()])
    if values.shape != (12,) or not np.isfinite(values).all() or np.abs(values).max() > 1e12:
        raise MeshError(f"{name}: the transform {text[:60]!r} is not twelve numbers: export the file again")
    if np.linalg.det(values.reshape(4, 3)[:3]) == 0.0:
        raise MeshError(f"{name}: the transform {text[:60]!r} flattens the piece: export the file again")
    return values.reshape(4, 3)


def _placed(model: _Model, name: str) -> RawMesh:
    warnings: list[str] = []
    build = model.build
    if not build:
        warnings.append("the 3MF builds nothing: all of its objects were taken")
        inner = {key for o in model.objects.values() for key, _ in o.components}
        build = [(key, _matrix(None, name)) for key in model.objects if key not in inner]
    sizes: dict[Key, tuple[int, int]] = {}
    faces, placed = (
        sum(n) for n in zip((0, 0), *(_size(model, k, sizes, 0, name) for k, _ in build), strict=True)
    )
    check_face_count(faces, name)
    if placed > _MOST_PLACED:
        raise MeshError(f"{name}: {placed:,} objects are placed, more than {_MOST_PLACED:,}: look what it is")
    points: list[FloatArray] = [np.zeros((0, 3))]
    triangles: list[IntArray] = [np.zeros((0, 3), dtype=np.int64)]
    arrays: dict[Key, tuple[FloatArray, IntArray]] = {}
    count = 0
    stack = [(key, matrix) for key, matrix in reversed(build)]
    while stack:
        key, matrix = stack.pop()
        found = model.objects[key]
        if found.kind not in ("model", "surface"):  # support is not part of the piece
            warnings.append(f"object {key[1][:20]!r} of type {found.kind[:20]!r} was left out")
            continue
        if found.triangles:
            if key not in arrays:
                arrays[key] = _arrays(found, name)
            corners, faces_of = arrays[key]
            points.append(corners @ matrix[:3] + matrix[3])
            triangles.append((faces_of[:, ::-1] if np.linalg.det(matrix[:3]) < 0 else faces_of) + count)
            count += len(corners)
        stack += [(inner, _after(own, matrix)) for inner, own in reversed(found.components)]
    return RawMesh(
        vertices=np.concatenate(points),
        faces=np.concatenate(triangles),
        kind="3MF",
        shares_vertices=True,
        unit=model.unit,
        up="z",
        warnings=tuple(warnings),
    )


def _arrays(found: _Object, name: str) -> tuple[FloatArray, IntArray]:
    """Vertices (n, 3) and faces (m, 3) of an object; MeshError where a face names a vertex of another."""
    vertices = np.array(found.vertices).reshape(-1, 3)
    faces = np.array(found.triangles, dtype=np.int64).reshape(-1, 3)
    count = len(vertices)
    outside = ((faces < 0) | (faces >= count)).any(axis=1)
    if outside.any():
        first = int(np.argmax(outside))
        raise MeshError(
            f"{name}: face {first + 1:,} names a vertex outside its object's {count:,}: export the file again"
        )
    return vertices, faces


def _after(own: FloatArray, outer: FloatArray) -> FloatArray:
    """The transform `own` followed by `outer`, both (4, 3)."""
    return np.concatenate([own[:3] @ outer[:3], own[3:] @ outer[:3] + outer[3:]])


def _size(
    model: _Model, key: Key, sizes: dict[Key, tuple[int, int]], depth: int, name: str
) -> tuple[int, int]:
    """Faces and placed objects below one object, so that nothing is multiplied before it is known."""
    if key in sizes:
        return sizes[key]
    if key not in model.objects:
        raise MeshError(f"{name}: object {key[1][:20]!r} of {key[0][:40]} is missing: export the file again")
    if depth > _MOST_DEPTH:
        raise MeshError(
            f"{name}: object {key[1][:20]!r} holds itself or is nested too deep: the file is hostile"
        )
    found = model.objects[key]
    faces, placed = len(found.triangles) // 3, 1
    for inner, _ in found.components:
        more = _size(model, inner, sizes, depth + 1, name)
        faces, placed = faces + more[0], placed + more[1]
    sizes[key] = faces, placed
    return sizes[key]
