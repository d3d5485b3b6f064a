from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_pages import FAULTS, BenchServer


@pytest.fixture(autouse=True)
def no_page_faults() -> Iterator[None]:
    FAULTS.clear()
    yield
    assert FAULTS == []


@pytest.fixture(scope="session")
def steady_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BenchServer]:
    """One server for all tests that leave each other alone; its clock is the day's."""
    server = BenchServer(shop=tmp_path_factory.mktemp("bench"), rate=1.0)
    server.start()
    yield server
    server.kill()


@pytest.fixture
def bench_server(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[BenchServer]:
    server = BenchServer(shop=tmp_path / "shop", rate=float(getattr(request, "param", 1.0)))
    server.start()
    yield server
    server.kill()
