"""The bytes of a mesh file: size first, unpacked within limits, and what they really hold."""

from __future__ import annotations

import re
import stat
import zlib
from pathlib import Path
from typing import Final

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import MOST_BYTES, most_unpacked

KINDS: Final = {".stl": "STL", ".obj": "OBJ", ".ply": "PLY", ".3mf": "3MF", ".glb": "GLB"}
_STEP: Final = 1 << 20
_OBJ_LINE: Final = re.compile(rb"^[ \t]*(v|f)[ \t]+[-+0-9.]", re.MULTILINE)


def read_bytes(path: Path) -> tuple[bytes, str]:
    """Unpacked bytes of a mesh file and the kind its name promises ("STL", "OBJ", "PLY", "3MF", "GLB").

    Raises MeshError for a missing, empty, too large, packed-too-far or mis-named file.
    """
    name = path.name
    suffixes = [s.lower() for s in path.suffixes]
    packed = bool(suffixes) and suffixes[-1] == ".gz"
    ending = (suffixes[:-1] if packed else suffixes)[-1:]
    if not ending or ending[0] not in KINDS:
        raise MeshError(f"{name}: the ending is not one of {', '.join(KINDS)} (or one of these and .gz)")
    kind = KINDS[ending[0]]
    data = _whole(path)
    if packed:
        data = _unpacked(data, name)
    if not data:
        raise MeshError(f"{name}: the file is empty: fetch or export it again")
    held = held_kind(data)
    if held is not None and held != kind:
        raise MeshError(f"{name}: the name says {kind} but the content is {held}: rename the file")
    return data, kind


def held_kind(data: bytes) -> str | None:
    """What the bytes hold by their first marks, or None where these don't tell."""
    start = data[:4096]
    if start[:2] == b"\x1f\x8b":
        return "packed with gzip (ending .gz)"
    if start[:4] == b"glTF":
        return "GLB"
    if start[:2] == b"PK":
        return "3MF"
    if re.match(rb"ply\s", start):
        return "PLY"
    text = start.removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if text[:5] == b"solid" or len(data) == 84 + 50 * int.from_bytes(data[80:84], "little"):
        return "STL"
    if b"\0" not in start and _OBJ_LINE.search(start):
        return "OBJ"
    return None


def _whole(path: Path) -> bytes:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise MeshError(f"{path.name}: this is not a file: give the mesh file itself")
        if status.st_size > MOST_BYTES:
            raise MeshError(
                f"{path.name}: {status.st_size / 1e6:.0f} MB is more than the {MOST_BYTES / 1e6:.0f} MB "
                "that are read: reduce the scan to a million faces"
            )
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise MeshError(f"{path}: there is no such file: check the name and folder") from None
    except (OSError, ValueError) as error:
        raise MeshError(f"{path.name}: the file can't be opened ({error}): check its permissions") from None
    if len(data) > MOST_BYTES:
        raise MeshError(f"{path.name}: the file grew while it was read: try again when it is whole")
    return data


def _unpacked(data: bytes, name: str) -> bytes:
    """Bytes of a gzip file, refused as soon as they pass the limit; several members are joined."""
    most = most_unpacked(len(data))
    pieces: list[bytes] = []
    total = 0
    rest = data
    while rest:
        if not pieces and rest[:2] != b"\x1f\x8b":
            raise MeshError(f"{name}: the name says .gz but the content is not packed: drop the ending .gz")
        if pieces and rest[:2] != b"\x1f\x8b":
            break  # padding after the last member, which gzip ignores too
        unpacker = zlib.decompressobj(wbits=31)
        while not unpacker.eof:
            try:
                piece = unpacker.decompress(rest, _STEP)
            except zlib.error as error:
                raise MeshError(f"{name}: unpacking fails ({error}): fetch the file again") from None
            rest = unpacker.unconsumed_tail
            total += len(piece)
            if total > most:
                raise MeshError(
                    f"{name}: {len(data):,} bytes unpack to more than the {most:,} that are read: "
                    "unpack it yourself and look what it is"
                )
            pieces.append(piece)
            if not piece and not unpacker.eof and not rest:
                raise MeshError(f"{name}: the packed file is cut short after {total:,} bytes: fetch it again")
        rest = unpacker.unused_data
    return b"".join(pieces)
