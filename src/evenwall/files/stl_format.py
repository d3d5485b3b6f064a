"""STL, binary and text: triangles without unit, each with its own three corners."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NoReturn

import numpy as np

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import RawMesh, check_declared, check_face_count
from evenwall.geometry.surface import FloatArray

_HEAD: Final = 84  # 80 bytes of text and the count
RECORD: Final = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_FACET: Final = 21  # words of one facet in text
_WORDS: Final = {
    0: b"facet", 1: b"normal", 5: b"outer", 6: b"loop", 7: b"vertex", 11: b"vertex", 15: b"vertex",
    19: b"endloop", 20: b"endfacet",
}  # fmt: skip
_NUMBERS: Final = (8, 9, 10, 12, 13, 14, 16, 17, 18)
_STEP: Final = 4_000_000  # bytes of text taken apart at a time
_SOLID: Final = re.compile(rb"(?:\xef\xbb\xbf)?\s*solid(?:[ \t][^\r\n]*)?(?=[\r\n]|$)", re.IGNORECASE)
_END_SOLID: Final = re.compile(rb"\bend[ \t]*solid(?:[ \t][^\r\n]*)?(?=[\r\n]|$)", re.IGNORECASE)
_END_FACET: Final = re.compile(rb"\bendfacet\b", re.IGNORECASE)


def parse_stl(data: bytes, name: str) -> RawMesh:
    """Triangles of an STL file; raises MeshError for cut or lying ones."""
    return _text(data, name) if _is_text(data) else _binary(data, name)


def _is_text(data: bytes) -> bool:
    start = data[:1024].removeprefix(b"\xef\xbb\xbf").lstrip()
    if start[:5].lower() != b"solid" or b"\0" in start:
        return False
    return len(data) < _HEAD or len(data) != _HEAD + 50 * _declared(data)


def _declared(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")


def _binary(data: bytes, name: str) -> RawMesh:
    if len(data) < _HEAD:
        raise MeshError(
            f"{name}: {len(data)} bytes are fewer than the {_HEAD} of an STL header: fetch or export it again"
        )
    declared = _declared(data)
    whole, rest = divmod(len(data) - _HEAD, RECORD.itemsize)
    check_declared(declared, whole, "triangles", name)
    extra = len(data) - _HEAD - declared * RECORD.itemsize
    if whole > declared and (rest == 0 or extra >= declared * RECORD.itemsize):
        raise MeshError(
            f"{name}: the header announces {declared:,} triangles but the file holds {whole:,}: "
            "it is damaged, export it again"
        )
    warnings = (f"{extra:,} bytes after the last triangle were left out",) if extra else ()
    check_face_count(declared, name)
    records = np.frombuffer(data, dtype=RECORD, count=declared, offset=_HEAD)
    vertices = records["corners"].reshape(-1, 3).astype(np.float64)
    return RawMesh(
        vertices=vertices,
        faces=np.arange(3 * declared, dtype=np.int64).reshape(-1, 3),
        kind="binary STL",
        shares_vertices=False,
        warnings=warnings,
    )


def _text(data: bytes, name: str) -> RawMesh:
    pieces: list[FloatArray] = []
    count = 0
    for start, end in _solids(data, name):
        while start < end:
            stop = end
            if end - start > _STEP:
                cut = _END_FACET.search(data, start + _STEP, end)
                stop = cut.end() if cut else end
            pieces.append(_facets(data[start:stop].split(), count, name))
            count += len(pieces[-1])
            check_face_count(count, name)
            start = stop
    vertices = np.concatenate([np.zeros((0, 9)), *pieces]).reshape(-1, 3)
    return RawMesh(
        vertices=vertices,
        faces=np.arange(len(vertices), dtype=np.int64).reshape(-1, 3),
        kind="text STL",
        shares_vertices=False,
    )


def _solids(data: bytes, name: str) -> Iterator[tuple[int, int]]:
    """Where the facets of each solid begin and end; its name, a whole line, is left out."""
    at = 0
    while head := _SOLID.match(data, at):
        end = _END_SOLID.search(data, head.end())
        if end is None:
            whole = len(_END_FACET.findall(data, head.end()))
            raise MeshError(
                f"{name}: the text stops without endsolid after {whole:,} whole facets: "
                "it is cut short, fetch or export it again"
            )
        yield head.end(), end.start()
        at = end.end()
    if data[at:].strip():
        word = data[at:].split()[0][:20].decode("ascii", "replace")
        raise MeshError(f"{name}: {word!r} stands where a solid should begin: export the mesh again")


def _facets(words: list[bytes], before: int, name: str) -> FloatArray:
    """Nine coordinates of each facet, shape (k, 9); `before` facets came before these."""
    if len(words) % _FACET or any(
        {w.lower() for w in set(words[at::_FACET])} - {word} for at, word in _WORDS.items()
    ):
        _raise_first_bad(words, before, name)
    corners = np.empty((len(words) // _FACET, 9))
    try:
        for column, at in enumerate(_NUMBERS):
            corners[:, column] = np.fromiter(map(float, words[at::_FACET]), np.float64, len(corners))
    except ValueError:
        _raise_first_bad(words, before, name)
    return corners


def _raise_first_bad(words: list[bytes], before: int, name: str) -> NoReturn:
    for first in range(0, len(words), _FACET):
        facet = words[first : first + _FACET]
        for at in range(_FACET):
            word = facet[at].decode("ascii", "replace")[:20] if at < len(facet) else ""
            wanted = _WORDS.get(at, b"a number").decode()
            good = word.lower() == wanted if at in _WORDS else at < len(facet) and _is_number(word)
            if not good:
                raise MeshError(
                    f"{name}: facet {before + first // _FACET + 1:,} has {word!r} where {wanted} should be "
                    "(with a point for decimals): mend or export the mesh again"
                )
    raise MeshError(f"{name}: the facets can't be told apart: export the mesh again")


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
