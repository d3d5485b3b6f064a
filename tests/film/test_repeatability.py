"""The same inputs give the same wall to the last bit, however many threads the machine's BLAS takes."""

from __future__ import annotations

import os
import subprocess
import sys

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
