"""OBJ: vertices and polygons as text, without unit; materials and other files are never opened."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NoReturn

import numpy as np

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import RawMesh, check_face_count
from evenwall.geometry.polygons import triangles_of_polygons
from evenwall.geometry.surface import FloatArray, IntArray

_STEP: Final = 4_000_000  # bytes of text taken apart at a time
_CURVED: Final = (b"curv", b"surf", b"cstype")
_TEXTURE_AND_NORMAL: Final = re.compile(rb"/\S*")
_POINT: Final = re.compile(rb"v[ \t]")
_LOOP: Final = re.compile(rb"f[ \t]")


def parse_obj(data: bytes, name: str) -> RawMesh:
    """Triangles of an OBJ file (polygons are split); raises MeshError naming the bad line."""
    if b"\0" in data[:4096]:
        raise MeshError(f"{name}: the content is not text as in an OBJ: export the mesh again")
    vertices: list[FloatArray] = []
    loops: list[IntArray] = []  # each (k, corners)
    known = count = 0
    curved = False
    for first_line, lines in _chunks(data):
        curved = curved or any(line.startswith(_CURVED) for line in lines)
        try:
            vertices.append(_points([line for line in lines if _POINT.match(line)]))
            loops += _loops(lines, known)
        except (ValueError, OverflowError):
            _raise_first_bad(lines, first_line, name)
        known += len(vertices[-1])
        count = sum(len(loop) * (loop.shape[1] - 2) for loop in loops)
        check_face_count(count, name)
    if curved and not count:
        raise MeshError(f"{name}: the file holds curved surfaces only: export the piece as a triangle mesh")
    points = np.concatenate([np.zeros((0, 3)), *vertices])
    return RawMesh(
        vertices=points, faces=triangles_of_polygons(points, loops), kind="OBJ", shares_vertices=True
    )


def _chunks(data: bytes) -> Iterator[tuple[int, list[bytes]]]:
    """Number of the first line (from 0) and stripped lines, some megabytes at a time."""
    at = 3 if data[:3] == b"\xef\xbb\xbf" else 0
    line = 0
    newline = b"\n" if b"\n" in data else b"\r"
    while at < len(data):
        cut = data.find(newline, at + _STEP)
        while cut >= 0 and data[cut - 2 : cut].rstrip(b"\r").endswith(b"\\"):
            cut = data.find(newline, cut + 1)
        end = cut + 1 if cut >= 0 else len(data)
        text = data[at:end]
        if b"\\" in text:  # a backslash continues the line
            text = text.replace(b"\\\r\n", b" ").replace(b"\\" + newline, b" ")
        yield line, [piece.strip() for piece in text.split(newline)]
        line += data.count(newline, at, end)
        at = end


def _points(lines: list[bytes]) -> FloatArray:
    """x, y, z of every v line, shape (k, 3); what follows (weight or colour) is left out."""
    if not lines:
        return np.zeros((0, 3))
    words = b" ".join(lines).split()
    width, rest = divmod(len(words), len(lines))
    if rest == 0 and width >= 4 and set(words[::width]) == {b"v"}:
        columns = [np.fromiter(map(float, words[k::width]), np.float64, len(lines)) for k in (1, 2, 3)]
        return np.stack(columns, axis=1)
    return np.array([_point(line) for line in lines])


def _point(line: bytes) -> tuple[float, float, float]:
    x, y, z = line.split()[1:4]
    return float(x), float(y), float(z)


def _loops(lines: list[bytes], known: int) -> list[IntArray]:
    """Corner indices (from 0) of every f line, gathered by number of corners."""
    faces = [line for line in lines if _LOOP.match(line)]
    if not faces:
        return []
    text = b" ".join(faces)
    if b"/" in text:
        text = _TEXTURE_AND_NORMAL.sub(b"", text)
    if b"-" not in text:
        words = text.split()
        width, rest = divmod(len(words), len(faces))
        if rest == 0 and width >= 4 and set(words[::width]) == {b"f"}:
            columns = [np.fromiter(map(int, words[k::width]), np.int64, len(faces)) for k in range(1, width)]
            return [np.stack(columns, axis=1) - 1]
    return _loops_line_by_line(lines, known)


def _loops_line_by_line(lines: list[bytes], known: int) -> list[IntArray]:
    by_size: dict[int, list[list[int]]] = {}
    for line in lines:
        if _POINT.match(line):
            known += 1
        elif _LOOP.match(line):
            loop = _loop(line, known)
            by_size.setdefault(len(loop), []).append(loop)
    return [np.array(group, dtype=np.int64) for group in by_size.values()]


def _loop(line: bytes, known: int) -> list[int]:
    numbers = [int(word.partition(b"/")[0]) for word in line.split()[1:]]
    if len(numbers) < 3:
        raise ValueError
    return [known + n if n < 0 else n - 1 for n in numbers]  # below 0: counted back from the last vertex


def _raise_first_bad(lines: list[bytes], first_line: int, name: str) -> NoReturn:
    for at, line in enumerate(lines):
        try:
            if _POINT.match(line):
                _point(line)
            elif _LOOP.match(line):
                np.array(_loop(line, 0), dtype=np.int64)
        except (ValueError, OverflowError):
            text = line[:40].decode("ascii", "replace")
            raise MeshError(
                f"{name}: line {first_line + at + 1:,} ({text!r}) can't be read "
                "(three numbers with a point for decimals, or three corners or more, are needed): "
                "mend or export the mesh again"
            ) from None
    raise MeshError(f"{name}: the numbers near line {first_line + 1:,} can't be read: export the mesh again")
