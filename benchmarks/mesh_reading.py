"""Time and memory of reading, checking, mending and measuring a scan of 600,000 faces in each format.

Run: python benchmarks/mesh_reading.py [faces]
Wanted: 10 s and 3 GB for 600,000 faces; under 2 GB for any file below 10 MB.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np

_CHILD = """
import resource, sys, time
start, used = time.perf_counter(), time.process_time()
from evenwall.files.mesh_file import read_mesh
from evenwall.files.mesh_json import measure_as_json
path = sys.argv[1]
try:
    got = measure_as_json(read_mesh(path, unit="mm"))
    note = f"{got['faces']:,} faces, {got['volume_m3'] * 1e6:.3f} mL, closed {got['closed']}"
except Exception as error:
    note = f"{type(error).__name__}: {error}"[:110]
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
wall, cpu = time.perf_counter() - start, time.process_time() - used
print(f"{wall:6.2f} s wall {cpu:6.2f} s processor {peak:5.2f} GB  {note}")
"""


def bumpy_sphere(rings: int) -> tuple[np.ndarray, np.ndarray]:
    """Vertices [mm] and faces of a sphere of radius 60 mm with bumps, about 4 rings^2 faces."""
    around = 2 * rings
    theta = np.linspace(0, np.pi, rings + 1)[1:-1]
    phi = np.linspace(0, 2 * np.pi, around, endpoint=False)
    t, p = (a.ravel() for a in np.meshgrid(theta, phi, indexing="ij"))
    r = 60 + 2 * np.sin(9 * t) * np.cos(11 * p)
    body = np.stack([r * np.sin(t) * np.cos(p), r * np.sin(t) * np.sin(p), r * np.cos(t)], axis=1)
    vertices = np.concatenate([body, [[0, 0, 60.0], [0, 0, -60.0]]])
    i, j = (a.ravel() for a in np.meshgrid(np.arange(rings - 2), np.arange(around), indexing="ij"))
    a, b = i * around + j, i * around + (j + 1) % around
    c, d = a + around, b + around
    k = np.arange(around)
    north, south = len(body), len(body) + 1
    last = (rings - 2) * around
    cap = np.stack([np.full(around, north), k, (k + 1) % around], axis=1)
    foot = np.stack([np.full(around, south), last + (k + 1) % around, last + k], axis=1)
    faces = np.concatenate([np.stack([a, c, b], 1), np.stack([b, c, d], 1), cap, foot])
    return vertices, faces


def write_all(folder: Path, vertices: np.ndarray, faces: np.ndarray) -> list[Path]:
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    data = np.zeros(len(faces), record)
    data["corners"] = vertices[faces]
    stl = folder / "scan.stl"
    stl.write_bytes(b"\0" * 80 + len(faces).to_bytes(4, "little") + data.tobytes())
    text = folder / "scan_text.stl"
    with text.open("w") as out:
        out.write("solid scan\n")
        for corner in vertices[faces].tolist():
            out.write("facet normal 0 0 0\n outer loop\n")
            out.writelines(f"  vertex {x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in corner)
            out.write(" endloop\nendfacet\n")
        out.write("endsolid scan\n")
    obj = folder / "scan.obj"
    with obj.open("w") as out:
        out.writelines(f"v {x:.6f} {y:.6f} {z:.6f}\n" for x, y, z in vertices.tolist())
        out.writelines(f"f {a}//{a} {b}//{b} {c}//{c}\n" for a, b, c in (faces + 1).tolist())
    ply = folder / "scan.ply"
    header = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(vertices)}\nproperty float x\n"
        f"property float y\nproperty float z\nelement face {len(faces)}\n"
        "property list uchar int vertex_indices\nend_header\n"
    )
    rows = np.zeros(len(faces), np.dtype([("n", "u1"), ("v", "<i4", 3)]))
    rows["n"], rows["v"] = 3, faces
    ply.write_bytes(header.encode() + vertices.astype("<f4").tobytes() + rows.tobytes())
    threemf = folder / "scan.3mf"
    with zipfile.ZipFile(threemf, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "_rels/.rels",
            '<Relationships><Relationship Target="/3D/m.model" '
            'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>',
        )
        parts = ['<model unit="millimeter"><resources><object id="1"><mesh><vertices>']
        parts += [f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in vertices.tolist()]
        parts.append("</vertices><triangles>")
        parts += [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist()]
        parts.append('</triangles></mesh></object></resources><build><item objectid="1"/></build></model>')
        archive.writestr("3D/m.model", "".join(parts))
    return [stl, text, obj, ply, threemf]


def write_hostile(folder: Path) -> list[Path]:
    """Files just below 10 MB that ask for as much memory as they can."""
    fans = folder / "fans.obj"
    fans.write_bytes(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\n" + (b"f" + b" 1 2 3 4" * 300 + b"\n") * 4_000)
    faces = folder / "faces.obj"
    faces.write_bytes(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nv 0 0 1\n" + b"f 1 2 3\n" * 1_240_000)
    points = folder / "points.obj"
    points.write_bytes(b"v 0 0 0\n" * 1_240_000 + b"f 1 2 3\n")
    rng = np.random.default_rng(1)
    soup = folder / "soup.stl"
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    data = np.zeros(199_000, record)
    data["corners"] = rng.uniform(0, 100, (199_000, 3, 3))
    soup.write_bytes(b"\0" * 80 + len(data).to_bytes(4, "little") + data.tobytes())
    dust = folder / "dust.stl"
    data["corners"] = rng.uniform(0, 100, (199_000, 1, 3)) + rng.uniform(0, 0.1, (199_000, 3, 3))
    dust.write_bytes(b"\0" * 80 + len(data).to_bytes(4, "little") + data.tobytes())
    tetra = rng.uniform(0, 100, (49_000, 1, 3)) + rng.uniform(0, 0.3, (49_000, 4, 3))
    data = np.zeros(196_000, record)
    corners = tetra[:, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])]
    data["corners"] = corners.reshape(-1, 3, 3)
    bodies = folder / "bodies.stl"
    bodies.write_bytes(b"\0" * 80 + len(data).to_bytes(4, "little") + data.tobytes())
    return [fans, faces, points, soup, dust, bodies]


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 600_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for path in write_all(folder, *bumpy_sphere(round((count / 4) ** 0.5))) + write_hostile(folder):
            size = path.stat().st_size / 1e6
            got = subprocess.run(
                [sys.executable, "-c", _CHILD, str(path)], capture_output=True, text=True, check=False
            )
            print(
                f"{path.name:15} {size:6.1f} MB {got.stdout.strip() or got.stderr.strip()[-300:]}", flush=True
            )


if __name__ == "__main__":
    main()
