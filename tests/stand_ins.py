"""The folder of real models, and generated models of the same roles."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np

from evenwall.geometry.surface import FloatArray, IntArray

REPOSITORY = Path(__file__).resolve().parents[1]


def mesh_folder() -> Path:
    """The folder of real models, which need not exist."""
    return Path(os.environ.get("EVENWALL_MESHES", REPOSITORY.parent / "shared" / "meshes"))


def ball(rings: int, *, bumps: float = 0.0, radius: float = 1.0) -> tuple[FloatArray, IntArray]:
    """Vertices and faces of a closed ball with bumps, 4 rings (rings - 1) faces."""
    around = 2 * rings
    theta = np.linspace(0, np.pi, rings + 1)[1:-1]
    phi = np.linspace(0, 2 * np.pi, around, endpoint=False)
    t, p = (a.ravel() for a in np.meshgrid(theta, phi, indexing="ij"))
    r = radius * (1 + bumps * np.sin(4 * t) * np.cos(5 * p))
    body = np.stack([r * np.sin(t) * np.cos(p), r * np.cos(t), -r * np.sin(t) * np.sin(p)], axis=1)
    vertices = np.concatenate([body, [[0.0, radius, 0.0], [0.0, -radius, 0.0]]])
    i, j = (a.ravel() for a in np.meshgrid(np.arange(rings - 2), np.arange(around), indexing="ij"))
    a, b = i * around + j, i * around + (j + 1) % around
    c, d, k = a + around, b + around, np.arange(around)
    last = (rings - 2) * around
    north = np.stack([np.full(around, len(body)), k, (k + 1) % around], axis=1)
    south = np.stack([np.full(around, len(body) + 1), last + (k + 1) % around, last + k], axis=1)
    return vertices, np.concatenate([np.stack([a, c, b], 1), np.stack([b, c, d], 1), north, south])


def obj_text(vertices: FloatArray, faces: IntArray) -> bytes:
    """An OBJ file of these triangles."""
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (faces + 1).tolist()]
    return ("\n".join(lines) + "\n").encode()


def stand_in(name: str) -> bytes:
    """A generated model of the same role as the real one of this name."""
    if name.startswith("demosthenes"):  # a bust with an open base
        vertices, faces = ball(48, bumps=0.1)
        return obj_text(vertices, faces[(vertices[faces][:, :, 1] > -0.8).all(axis=1)])
    return obj_text(*ball(96 if name.startswith("koala") else 40, bumps=0.15))
