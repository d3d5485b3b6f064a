"""GLB (binary glTF 2.0, Khronos, ISO/IEC 12113): triangles of the scene in metres, y up by its standard."""

from __future__ import annotations

import json
import struct
from typing import Any, Final

import numpy as np

from evenwall.errors import MeshError
from evenwall.files.mesh_checks import RawMesh, check_declared, check_face_count
from evenwall.geometry.surface import FloatArray, IntArray

_TYPES: Final = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_WIDTHS: Final = {"SCALAR": 1, "VEC3": 3}
_JSON, _BIN = 0x4E4F534A, 0x004E4942
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
_PACKED: Final = {"KHR_draco_mesh_compression", "EXT_meshopt_compression", "KHR_meshopt_compression"}
_MOST_NODES: Final = 100_000


def parse_glb(data: bytes, name: str) -> RawMesh:
    """Triangles of the default scene, node transforms applied; raises MeshError for damaged files."""
    document, binary = _pieces(data, name)
    try:
        return _Scene(document, binary, name).mesh()
    except (KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise MeshError(
            f"{name}: the GLB contradicts itself ({type(error).__name__}: {str(error)[:60]}): export it again"
        ) from None


def _pieces(data: bytes, name: str) -> tuple[dict[str, Any], bytes]:
    if len(data) < 20 or data[:4] != b"glTF":
        raise MeshError(f"{name}: this is no GLB ({len(data)} bytes): export the piece again")
    version, declared = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise MeshError(f"{name}: GLB version {version} where 2 is read: export it as glTF 2.0")
    check_declared(declared, len(data), "bytes", name)
    chunks: dict[int, bytes] = {}
    at = 12
    while at + 8 <= declared:
        size, kind = struct.unpack_from("<II", data, at)
        check_declared(size, declared - at - 8, "bytes of a chunk", name)
        chunks.setdefault(kind, data[at + 8 : at + 8 + size])
        at += 8 + size
    try:
        document = json.loads(chunks[_JSON])
        if not isinstance(document, dict):
            raise ValueError
    except (KeyError, ValueError, RecursionError):
        raise MeshError(f"{name}: the GLB's description can't be read: export it again") from None
    return document, chunks.get(_BIN, b"")


class _Scene:
    """The document and its binary chunk while they are read."""

    def __init__(self, document: dict[str, Any], binary: bytes, name: str) -> None:
        self.document = document
        self.binary = binary
        self.name = name
        self.faces_so_far = 0

    def mesh(self) -> RawMesh:
        used = {e for e in self.document.get("extensionsRequired", []) if isinstance(e, str)}
        if used & _PACKED:
            raise MeshError(f"{self.name}: the mesh is packed by {min(used & _PACKED)}: export it unpacked")
        points: list[FloatArray] = [np.zeros((0, 3))]
        faces: list[IntArray] = [np.zeros((0, 3), dtype=np.int64)]
        count = 0
        for mesh, matrix in self.placed():
            for primitive in self.document["meshes"][mesh]["primitives"]:
                corners, triangles = self.primitive(primitive)
                if np.linalg.det(matrix[:3, :3]) < 0:
                    triangles = triangles[:, ::-1]
                points.append(corners @ matrix[:3, :3].T + matrix[:3, 3])
                faces.append(triangles + count)
                count += len(corners)
        return RawMesh(
            vertices=np.concatenate(points),
            faces=np.concatenate(faces),
            kind="GLB",
            shares_vertices=False,
            unit="m",
            up="y",
        )

    def placed(self) -> list[tuple[int, FloatArray]]:
        """Every mesh of the default scene with its transform (4, 4)."""
        nodes = self.document.get("nodes", [])
        scenes = self.document.get("scenes")
        if scenes:
            todo = list(scenes[self.document.get("scene", 0)].get("nodes", []))
        else:
            children = {c for node in nodes for c in node.get("children", [])}
            todo = [k for k in range(len(nodes)) if k not in children]
        found: list[tuple[int, FloatArray]] = []
        stack = [(int(k), np.eye(4)) for k in todo]
        seen: set[int] = set()
        while stack:
            at, above = stack.pop()
            if at in seen or at < 0 or len(seen) > _MOST_NODES:
                raise MeshError(f"{self.name}: node {at} of the GLB is not in a tree: export it again")
            seen.add(at)
            node = nodes[at]
            matrix = above @ _transform(node)
            if not np.isfinite(matrix).all() or np.linalg.det(matrix[:3, :3]) == 0:
                raise MeshError(f"{self.name}: node {at} of the GLB flattens the piece: export it again")
            if "mesh" in node:
                found.append((int(node["mesh"]), matrix))
            stack += [(int(child), matrix) for child in node.get("children", [])]
        return found

    def primitive(self, primitive: dict[str, Any]) -> tuple[FloatArray, IntArray]:
        mode = primitive.get("mode", _TRIANGLES)
        if mode not in (_TRIANGLES, _STRIP, _FAN):
            return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)  # points and lines have no wall
        corners = self.accessor(primitive["attributes"]["POSITION"], "VEC3")
        if "indices" in primitive:
            order = self.accessor(primitive["indices"], "SCALAR").reshape(-1).astype(np.int64)
        else:
            order = np.arange(len(corners), dtype=np.int64)
        if order.size and (order.min() < 0 or order.max() >= len(corners)):
            raise MeshError(
                f"{self.name}: a face names vertex {int(order.max()) + 1:,} of {len(corners):,}: "
                "the file is damaged, export it again"
            )
        triangles = _triangles(order, mode)
        self.faces_so_far += len(triangles)
        check_face_count(self.faces_so_far, self.name)
        return corners.astype(np.float64), triangles

    def accessor(self, index: int, kind: str) -> FloatArray:
        accessor = self.document["accessors"][index]
        if accessor["type"] != kind or index < 0:
            raise MeshError(
                f"{self.name}: accessor {index} is {accessor['type']}, not {kind}: export it again"
            )
        count, number = int(accessor["count"]), np.dtype(_TYPES[accessor["componentType"]])
        check_face_count(count // 6, self.name)
        if "bufferView" in accessor:
            values = self.view(
                accessor["bufferView"], int(accessor.get("byteOffset", 0)), count, number, _WIDTHS[kind]
            )
        else:
            values = np.zeros((count, _WIDTHS[kind]), dtype=number)
        if "sparse" in accessor:
            values = self.with_sparse(values.copy(), accessor["sparse"])
        if accessor.get("normalized", False) and number.kind in "iu":
            return np.maximum(values / float(np.iinfo(number).max), -1.0)
        return values

    def with_sparse(self, values: FloatArray, sparse: dict[str, Any]) -> FloatArray:
        count, where, what = int(sparse["count"]), sparse["indices"], sparse["values"]
        index = self.view(
            where["bufferView"],
            where.get("byteOffset", 0),
            count,
            np.dtype(_TYPES[where["componentType"]]),
            1,
        )
        values[index.reshape(-1).astype(np.int64)] = self.view(
            what["bufferView"], what.get("byteOffset", 0), count, values.dtype, values.shape[1]
        )
        return values

    def view(self, index: int, offset: int, count: int, number: np.dtype[Any], width: int) -> FloatArray:
        """`count` records of `width` numbers of a buffer view, checked against the bytes that are there."""
        view = self.document["bufferViews"][index]
        if view["buffer"] != 0 or "uri" in self.document["buffers"][0]:
            raise MeshError(f"{self.name}: the mesh lies in another file: export it as one GLB")
        size = number.itemsize * width
        stride = int(view.get("byteStride", size))
        start = int(view.get("byteOffset", 0)) + offset
        end = min(int(view.get("byteOffset", 0)) + int(view["byteLength"]), len(self.binary))
        if index < 0 or start < 0 or count < 0 or not size <= stride <= 252 + size:
            raise MeshError(f"{self.name}: buffer view {index} is out of the file: export it again")
        whole = max(0, (end - start - size) // stride + 1) if end - start >= size else 0
        check_declared(count, whole, "numbers", self.name)
        if count == 0:
            return np.zeros((0, width), dtype=number)
        return np.ndarray(
            (count, width), number, self.binary, offset=start, strides=(stride, number.itemsize)
        )


def _triangles(order: IntArray, mode: int) -> IntArray:
    if mode == _TRIANGLES:
        return order[: len(order) // 3 * 3].reshape(-1, 3)
    if len(order) < 3:
        return np.zeros((0, 3), dtype=np.int64)
    if mode == _FAN:
        return np.stack([np.full(len(order) - 2, order[0]), order[1:-1], order[2:]], axis=1)
    strip = np.stack([order[:-2], order[1:-1], order[2:]], axis=1)
    strip[1::2] = strip[1::2][:, [1, 0, 2]]
    return strip


def _transform(node: dict[str, Any]) -> FloatArray:
    """Matrix (4, 4) of a node: given whole (column by column), or as scale, rotation, translation."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T
    x, y, z, w = np.array(node.get("rotation", (0, 0, 0, 1)), dtype=np.float64)
    rotation = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = rotation * np.array(node.get("scale", (1, 1, 1)), dtype=np.float64).reshape(3)
    matrix[:3, 3] = np.array(node.get("translation", (0, 0, 0)), dtype=np.float64).reshape(3)
    return matrix
