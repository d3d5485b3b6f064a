"""Kernels that numba keeps compiled on disk, forgotten when any of the sources they were made from has changed.

Numba looks only at the file that a kernel stands in. A kernel that calls another of a changed file would go on running
the old one, after an update of this program or an edit.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final

ROOMS: Final = ("film", "geometry", "resin", "turning")  # with compiled kernels
STAMP: Final = "kernels.stamp"


def forget_stale(root: Path) -> bool:
    """Deletes the compiled kernels under the package folder `root` if they are not of its sources; says whether.

    Like numba itself it goes by the files' times and sizes. Where nothing can be written there nothing is kept either.
    """
    sources = [path for room in ROOMS for path in sorted((root / room).glob("*.py"))]
    states = [(path.name, path.stat().st_mtime_ns, path.stat().st_size) for path in sources]
    now = hashlib.sha256(repr(states).encode()).hexdigest()
    stamp = root / "film" / "__pycache__" / STAMP
    try:
        if stamp.is_file() and stamp.read_text(encoding="ascii") == now:
            return False
        for room in ROOMS:
            for kept in (root / room / "__pycache__").glob("*.nb[ic]"):
                kept.unlink(missing_ok=True)
        stamp.parent.mkdir(exist_ok=True)
        stamp.write_text(now, encoding="ascii")
    except OSError:
        return False
    return True
