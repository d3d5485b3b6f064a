"""Arrays for the browser as one block of bytes: `EWB1`, length of the header, the header (JSON), the arrays.

The header is `{"arrays": {name: {"type": "f4", "shape": [...], "at": offset}}, "meta": {...}}`; offsets count from the
end of the header and are multiples of 4, so that the browser can look at the arrays where they lie.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

TYPES: Final[dict[str, np.dtype[Any]]] = {"f4": np.dtype("<f4"), "u4": np.dtype("<u4"), "u1": np.dtype("u1")}


def pack(arrays: Mapping[str, NDArray[Any]], meta: Mapping[str, Any]) -> bytes:
    """One block of bytes with `arrays` (floats become f4, integers u4, bytes u1) and `meta` (anything JSON takes)."""
    blocks, places, at = [], {}, 0
    for name, array in arrays.items():
        kind = "f4" if array.dtype.kind == "f" else "u1" if array.dtype == np.uint8 else "u4"
        block = np.ascontiguousarray(array, dtype=TYPES[kind]).tobytes()
        block += b"\0" * (-len(block) % 4)
        places[name] = {"type": kind, "shape": list(array.shape), "at": at}
        blocks.append(block)
        at += len(block)
    header = json.dumps({"arrays": places, "meta": meta}, allow_nan=False).encode()
    header += b" " * (-len(header) % 4)
    return b"".join([b"EWB1", struct.pack("<I", len(header)), header, *blocks])


def unpack(block: bytes) -> tuple[dict[str, NDArray[Any]], dict[str, Any]]:
    """The arrays and meta of a block of bytes made by `pack`; ValueError where it is none."""
    if block[:4] != b"EWB1":
        raise ValueError("not a block of arrays: it does not begin with EWB1")
    (length,) = struct.unpack_from("<I", block, 4)
    header = json.loads(block[8 : 8 + length])
    arrays = {}
    for name, place in header["arrays"].items():
        count = int(np.prod(place["shape"], dtype=int))
        flat = np.frombuffer(block, TYPES[place["type"]], count, 8 + length + place["at"])
        arrays[name] = flat.reshape(place["shape"])
    return arrays, header["meta"]
