"""Small mesh files in every format, written by hand."""

from __future__ import annotations

import io
import json
import struct
import zipfile

import numpy as np

from evenwall.geometry.surface import FloatArray, IntArray

CUBE = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 1.0)])
CUBE_FACES = np.array(
    [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6],
     [0, 6, 4], [1, 5, 7], [1, 7, 3]]
)  # fmt: skip
_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl(vertices: FloatArray, faces: IntArray, *, header: bytes = b"", declared: int | None = None) -> bytes:
    data = np.zeros(len(faces), _RECORD)
    data["corners"] = vertices[faces]
    count = len(faces) if declared is None else declared
    return header.ljust(80, b"\0") + count.to_bytes(4, "little") + data.tobytes()


def stl_text(vertices: FloatArray, faces: IntArray) -> str:
    out = ["solid with facet in its name"]
    for corners in vertices[faces].tolist():
        out += ["facet normal 0 0 0", "outer loop"]
        out += [f"vertex {x} {y} {z}" for x, y, z in corners]
        out += ["endloop", "endfacet"]
    return "\n".join([*out, "endsolid with facet in its name", ""])


def obj(vertices: FloatArray, faces: IntArray) -> bytes:
    lines = [f"v {x} {y} {z}" for x, y, z in vertices.tolist()]
    return "\n".join([*lines, *(f"f {a}/1/1 {b}/1 {c}" for a, b, c in (faces + 1).tolist()), ""]).encode()


def ply(vertices: FloatArray, faces: IntArray, *, order: str = "<", count: int | None = None) -> bytes:
    name = {"<": "binary_little_endian", ">": "binary_big_endian", "": "ascii"}[order]
    head = (
        f"ply\nformat {name} 1.0\ncomment made here\nelement vertex {len(vertices)}\nproperty double x\n"
        f"property double y\nproperty double z\nproperty uchar red\nelement face {count or len(faces)}\n"
        "property list uchar int vertex_indices\nend_header\n"
    ).encode()
    if order == "":
        rows = [f"{x} {y} {z} 7" for x, y, z in vertices.tolist()]
        rows += [" ".join(map(str, (3, *face))) for face in faces.tolist()]
        return head + "\n".join(rows).encode() + b"\n"
    body = b"".join(struct.pack(order + "dddB", *v, 7) for v in vertices.tolist())
    return head + body + b"".join(struct.pack(order + "Biii", 3, *f) for f in faces.tolist())


def threemf(
    model: str, *, extra: dict[str, bytes] | None = None, packing: int = zipfile.ZIP_DEFLATED
) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as archive:
        archive.writestr(
            "_rels/.rels",
            '<Relationships><Relationship Target="/3D/m.model" Type="http://x/3dmodel"/></Relationships>',
        )
        archive.writestr("3D/m.model", model)
        for name, data in (extra or {}).items():
            archive.writestr(name, data)
    return out.getvalue()


def model_xml(vertices: FloatArray, faces: IntArray, *, unit: str, build: str, more: str = "") -> str:
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    return (
        f'<model unit="{unit}"><resources><object id="1"><mesh><vertices>{points}</vertices>'
        f"<triangles>{triangles}</triangles></mesh></object>{more}</resources><build>{build}</build></model>"
    )


def glb(vertices: FloatArray, faces: IntArray, *, nodes: list[dict[str, object]] | None = None) -> bytes:
    binary = vertices.astype("<f4").tobytes() + faces.astype("<u2").tobytes()
    split = len(vertices) * 12
    document = {
        "asset": {"version": "2.0"},
        "scenes": [{"nodes": [0]}],
        "nodes": nodes or [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": len(vertices), "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": faces.size, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": split},
            {"buffer": 0, "byteOffset": split, "byteLength": len(binary) - split},
        ],
        "buffers": [{"byteLength": len(binary)}],
    }
    text = json.dumps(document).encode()
    text += b" " * (-len(text) % 4)
    binary += b"\0" * (-len(binary) % 4)
    total = 12 + 8 + len(text) + 8 + len(binary)
    return (
        struct.pack("<4sII", b"glTF", 2, total)
        + struct.pack("<II", len(text), 0x4E4F534A) + text
        + struct.pack("<II", len(binary), 0x004E4942) + binary
    )  # fmt: skip


CUBE_MM = 40.0 * CUBE
ITEM = '<item objectid="1"/>'
CUBES = {
    "cube.stl": stl(CUBE_MM, CUBE_FACES, header=b"solid but binary"),
    "text.stl": stl_text(CUBE_MM, CUBE_FACES).encode(),
    "capitals.STL": stl_text(CUBE_MM, CUBE_FACES).upper().replace("\n", "\r\n").encode(),
    "cube.obj": obj(CUBE_MM, CUBE_FACES),
    "old_mac.obj": obj(CUBE_MM, CUBE_FACES).replace(b"\n", b"\r"),
    "continued.obj": obj(CUBE_MM, CUBE_FACES).replace(b"f 1", b"f \\\n 1"),
    "little.ply": ply(CUBE_MM, CUBE_FACES),
    "big.ply": ply(CUBE_MM, CUBE_FACES, order=">"),
    "text.ply": ply(CUBE_MM, CUBE_FACES, order=""),
    "cube.3mf": threemf(model_xml(CUBE_MM, CUBE_FACES, unit="millimeter", build=ITEM)),
    "cube.glb": glb(0.04 * CUBE, CUBE_FACES),
}
