"""What all tests share: real models where they are at hand, stand-ins of the same role where not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from stand_ins import mesh_folder, stand_in


@pytest.fixture(scope="session")
def real_mesh(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Path of a real model by its file name; of a stand-in where the folder of models is absent."""
    folder = tmp_path_factory.mktemp("stand-ins")

    def path_of(name: str) -> Path:
        real = mesh_folder() / name
        if real.is_file():
            return real
        made = folder / name
        if not made.exists():
            made.write_bytes(stand_in(name))
        return made

    return path_of
