"""Compiled kernels that numba keeps are forgotten when one of their sources changes, and only then."""

import subprocess
import sys
from pathlib import Path

import pytest

from evenwall.kernels import forget_stale

CALLEE = "from numba import njit\n\n@njit(cache=True)\ndef inner():\n    return {}\n"
CALLER = (
    "from numba import njit\nfrom {} import inner\n\n@njit(cache=True)\ndef outer():\n    return inner()\n"
)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    for room in ("film", "geometry", "resin", "turning"):
        (tmp_path / room).mkdir()
    (tmp_path / "film" / "callee.py").write_text(CALLEE.format(1), encoding="utf-8")
    (tmp_path / "film" / "caller.py").write_text(CALLER.format("callee"), encoding="utf-8")
    return tmp_path


def answer(root: Path) -> int:
    code = "from caller import outer; print(outer())"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root / "film", capture_output=True, text=True, check=True
    )
    return int(done.stdout)


def test_a_kernel_is_made_anew_when_one_that_it_calls_has_changed(root: Path) -> None:
    forget_stale(root)
    assert answer(root) == 1
    assert list((root / "film" / "__pycache__").glob("caller.outer*.nbc"))
    assert not forget_stale(root)
    (root / "film" / "callee.py").write_text(CALLEE.format(22), encoding="utf-8")
    assert forget_stale(root)
    assert not list((root / "film" / "__pycache__").glob("*.nbc"))
    assert answer(root) == 22
