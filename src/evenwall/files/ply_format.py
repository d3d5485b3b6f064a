"""PLY, text and binary: vertices and polygons without unit."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, islice
from typing import Final

import numpy as np

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import RawMesh, check_declared, check_face_count
from evenwall.geometry.polygons import triangles_of_polygons
from evenwall.geometry.surface import FloatArray, IntArray

_TYPES: Final = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4",
    "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4",
    "uint32": "u4", "float32": "f4", "float64": "f8",
}  # fmt: skip
_FORMATS: Final = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_CORNERS: Final = ("vertex_indices", "vertex_index")
_MOST_CORNERS: Final = 10_000  # of one polygon
_END: Final = re.compile(rb"(?:^|[\r\n])end_header[ \t]*(\r\n|\n|\r)")
_STEP: Final = 1_000_000  # bytes of text taken apart at a time


@dataclass(frozen=True)
class _Property:
    name: str
    kind: str  # numpy type of the value, without byte order
    counter: str  # numpy type of the length where it is a list, else ""


@dataclass(frozen=True)
class _Element:
    name: str
    count: int
    properties: tuple[_Property, ...]


def parse_ply(data: bytes, name: str) -> RawMesh:
    """Triangles of a PLY file (polygons are split); raises MeshError for cut or lying ones."""
    order, elements, start = _header(data, name)
    vertex = next((e for e in elements if e.name == "vertex"), None)
    face = next((e for e in elements if e.name == "face"), None)
    if vertex is None or not {"x", "y", "z"} <= {p.name for p in vertex.properties if not p.counter}:
        raise MeshError(f"{name}: the header announces no vertices with x, y and z: export the mesh again")
    if face is None or not face.count:
        raise MeshError(f"{name}: the file holds points without triangles: make a mesh of the scan first")
    if not any(p.name in _CORNERS and p.counter for p in face.properties):
        raise MeshError(f"{name}: the faces have no list vertex_indices: export the mesh again")
    check_face_count(face.count, name)
    read = _read_text if order == "" else _read_binary
    points, loops = read(data, start, elements, order, name)
    count = sum(len(loop) * (loop.shape[1] - 2) for loop in loops)
    check_face_count(count, name)
    return RawMesh(
        vertices=points,
        faces=triangles_of_polygons(points, loops),
        kind="text PLY" if order == "" else "binary PLY",
        shares_vertices=True,
    )


def _header(data: bytes, name: str) -> tuple[str, list[_Element], int]:
    end = _END.search(data, 0, 100_000)
    if end is None:
        raise MeshError(f"{name}: the PLY header has no end_header: the file is damaged, fetch it again")
    lines = [line.split() for line in data[: end.start()].decode("latin-1").splitlines()]
    order: str | None = None
    elements: list[_Element] = []
    for words in lines[1:]:
        try:
            match words:
                case ["format", kind, "1.0"]:
                    order = _FORMATS[kind]
                case ["element", element, count] if int(count) >= 0:
                    elements.append(_Element(element, int(count), ()))
                case ["property", "list", counter, kind, label]:
                    if _TYPES[counter][0] == "f":
                        raise ValueError
                    _add(elements, _Property(label, _TYPES[kind], _TYPES[counter]))
                case ["property", kind, label]:
                    _add(elements, _Property(label, _TYPES[kind], ""))
                case [] | ["comment", *_] | ["obj_info", *_]:
                    pass
                case _:
                    raise ValueError
        except (KeyError, ValueError, IndexError):
            text = " ".join(words)[:40]
            raise MeshError(f"{name}: the PLY header line {text!r} can't be read: export it again") from None
    if order is None:
        raise MeshError(f"{name}: the PLY header has no format line: export the mesh again")
    return order, elements, end.end()


def _add(elements: list[_Element], prop: _Property) -> None:
    last = elements[-1]
    elements[-1] = _Element(last.name, last.count, (*last.properties, prop))


def _read_binary(
    data: bytes, at: int, elements: list[_Element], order: str, name: str
) -> tuple[FloatArray, list[IntArray]]:
    points = np.zeros((0, 3))
    loops: list[IntArray] = []
    for element in elements:
        if any(p.counter for p in element.properties):
            found, at = _binary_lists(data, at, element, order, name)
            loops = found if element.name == "face" else loops
        else:
            kind = np.dtype([(f"{k} {p.name}", order + p.kind) for k, p in enumerate(element.properties)])
            if not kind.itemsize:
                continue
            check_declared(element.count, (len(data) - at) // kind.itemsize, f"{element.name} records", name)
            records = np.frombuffer(data, dtype=kind, count=element.count, offset=at)
            at += element.count * kind.itemsize
            if element.name == "vertex":
                names = [p.name for p in element.properties]
                columns = [records[f"{names.index(c)} {c}"].astype(np.float64) for c in "xyz"]
                points = np.stack(columns, axis=1)
        if element.name == "face":
            break
    return points, loops


def _binary_lists(
    data: bytes, at: int, element: _Element, order: str, name: str
) -> tuple[list[IntArray], int]:
    """Corner lists of the faces, gathered by length, and where the next element begins."""
    least = sum(np.dtype(p.counter or p.kind).itemsize for p in element.properties)
    check_declared(element.count, (len(data) - at) // max(least, 1), f"{element.name} records", name)
    same = _binary_lists_of_one_length(data, at, element, order)
    if same is not None:
        return same
    by_size: dict[int, list[IntArray]] = {}
    for whole in range(element.count):
        for p in element.properties:
            length = 1
            if p.counter:
                counter = np.dtype(order + p.counter)
                if at + counter.itemsize > len(data):
                    check_declared(element.count, whole, f"{element.name} records", name)
                length = int(np.frombuffer(data, counter, 1, at)[0])
                at += counter.itemsize
            kind = np.dtype(order + p.kind)
            if length < 0 or at + length * kind.itemsize > len(data):
                check_declared(element.count, whole, f"{element.name} records", name)
            if p.name in _CORNERS:
                corners = np.frombuffer(data, kind, length, at)
                by_size.setdefault(length, []).append(corners)
            at += length * kind.itemsize
    return _gathered(by_size, name), at


def _binary_lists_of_one_length(
    data: bytes, at: int, element: _Element, order: str
) -> tuple[list[IntArray], int] | None:
    """The same where all faces have as many corners as the first (nearly always), else None."""
    fields: list[tuple[str, str] | tuple[str, str, int]] = []
    lengths: dict[int, int] = {}
    offset = at
    for k, p in enumerate(element.properties):
        if p.counter:
            counter = np.dtype(order + p.counter)
            if offset + counter.itemsize > len(data):
                return None
            lengths[k] = int(np.frombuffer(data, counter, 1, offset)[0])
            if not 0 < lengths[k] <= _MOST_CORNERS:
                return None
            fields += [(f"length {k}", order + p.counter), (f"value {k}", order + p.kind, lengths[k])]
            offset += counter.itemsize + lengths[k] * np.dtype(p.kind).itemsize
        else:
            fields.append((f"value {k}", order + p.kind))
            offset += np.dtype(p.kind).itemsize
    kind = np.dtype(fields)
    if (len(data) - at) // kind.itemsize < element.count:
        return None
    records = np.frombuffer(data, dtype=kind, count=element.count, offset=at)
    if any((records[f"length {k}"] != length).any() for k, length in lengths.items()):
        return None
    end = at + element.count * kind.itemsize
    corner = next((k for k in lengths if element.properties[k].name in _CORNERS), None)
    if corner is None:
        return [], end
    values = records[f"value {corner}"].reshape(element.count, -1).astype(np.int64)
    return ([values] if values.shape[1] >= 3 else []), end


def _read_text(
    data: bytes, at: int, elements: list[_Element], order: str, name: str
) -> tuple[FloatArray, list[IntArray]]:
    words = chain.from_iterable(data_words(data, at))
    points = np.zeros((0, 3))
    loops: list[IntArray] = []
    for element in elements:
        if any(p.counter for p in element.properties):
            found = _text_lists(words, element, name)
            loops = found if element.name == "face" else loops
        else:
            width = len(element.properties)
            check_declared(element.count * width, len(data), "numbers", name)
            try:
                values = np.fromiter(map(float, islice(words, element.count * width)), np.float64)
            except ValueError as error:
                raise MeshError(
                    f"{name}: {error}, among the {element.name} records: export it again"
                ) from None
            check_declared(element.count, len(values) // max(width, 1), f"{element.name} records", name)
            if element.name == "vertex":
                columns = [[p.name for p in element.properties].index(c) for c in "xyz"]
                points = values.reshape(-1, width)[:, columns]
        if element.name == "face":
            break
    return points, loops


def data_words(data: bytes, at: int) -> Iterator[list[bytes]]:
    """The words of a text from `at` on, some at a time so that memory stays small."""
    while at < len(data):
        end = min(at + _STEP, len(data))
        while end < len(data) and not data[end : end + 1].isspace():
            end += 1
        yield data[at:end].split()
        at = end


def _text_lists(words: Iterator[bytes], element: _Element, name: str) -> list[IntArray]:
    by_size: dict[int, list[list[int]]] = {}
    for whole in range(element.count):
        try:
            for p in element.properties:
                length = int(next(words)) if p.counter else 1
                if p.name in _CORNERS:
                    corners = list(map(int, islice(words, max(length, 0))))
                    if len(corners) != length:
                        raise StopIteration
                    by_size.setdefault(length, []).append(corners)
                else:
                    next(islice(words, length, length), None)
        except StopIteration:
            check_declared(element.count, whole, f"{element.name} records", name)
        except ValueError as error:
            raise MeshError(f"{name}: {error}, in {element.name} {whole + 1:,}: export it again") from None
    return _gathered(by_size, name)


def _gathered(by_size: dict[int, list[IntArray]] | dict[int, list[list[int]]], name: str) -> list[IntArray]:
    longest = max(by_size, default=0)
    if longest > _MOST_CORNERS:
        raise MeshError(
            f"{name}: a face has {longest:,} corners, more than the {_MOST_CORNERS:,} that are read: "
            "split the faces into triangles"
        )
    try:
        return [np.array(group, dtype=np.int64) for size, group in by_size.items() if size >= 3]
    except OverflowError:
        raise MeshError(f"{name}: a face names a vertex beyond any count: export the mesh again") from None
