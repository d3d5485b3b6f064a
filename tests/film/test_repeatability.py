"""The same inputs give the same to the last bit, whatever the machine's BLAS and the compiled code's cache hold."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

SAYS = """
from hashlib import sha256
from evenwall.film.coat import level_pool
from evenwall.film.operators import build_wall
from evenwall.proof.shapes import ball
from evenwall.geometry.surface import Surface
sphere = ball(0.05, rounds=5)
wall = build_wall(Surface(sphere.vertices * [0.8, 1.0, 1.4], sphere.faces))
pool = level_pool(wall, 3e-5, (0.1, 0.2, -0.9))
print(sha256(b"".join(part.tobytes() for part in (*wall, pool))).hexdigest())
"""


def test_one_and_two_threads_of_the_blas_give_the_same_wall_and_pool() -> None:
    said = [
        subprocess.run(
            [sys.executable, "-c", SAYS],
            env=os.environ
            | dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), threads),
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for threads in ("1", "2")
    ]
    assert said[0] == said[1]
    assert len(said[0]) == 65


SOLVES = """
from hashlib import sha256
import numpy as np
from evenwall.film.implicit import assemble_patches, new_system
from evenwall.film.operators import build_wall
from evenwall.film.solver import bicgstab
from evenwall.film.team import alone
from evenwall.proof.shapes import ball
wall = build_wall(ball(0.05, rounds=4), curved=False)
system, n, random = new_system(wall), len(wall.area), np.random.default_rng(1)
for i in range(n):
    system.place[i] = system.node[i] = i
    beside = wall.other[wall.start[i] : wall.start[i + 1]]
    system.column[i, : len(beside)] = beside
    system.coupling[i, : len(beside)] = random.uniform(1.0, 2.0)
system.own[:] = system.stiff[:] = system.weight[:] = 1.0
system.sum_coupling[:] = system.coupling.sum(axis=1)
system.scale[:] = 1.0 / (system.own + system.sum_coupling)
system.right[:] = random.normal(size=n)
assemble_patches(alone(), system)
iterations, _ = bicgstab(alone(), system, n, 1e-12, True, 0.0)
assert iterations > 3
print(sha256(system.solution.tobytes()).hexdigest())
"""


def test_solver_gives_the_same_where_it_is_compiled_and_where_it_is_loaded(tmp_path: Path) -> None:
    said = [
        subprocess.run(
            [sys.executable, "-c", SOLVES],
            env=os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for _ in range(2)
    ]
    assert said[0] == said[1]
    assert len(said[0]) == 65
