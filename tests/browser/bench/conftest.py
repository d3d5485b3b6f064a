from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_pages import FAULTS, BenchServer

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --use-gl=angle --use-angle=swiftshader "
    "--enable-unsafe-swiftshader"
)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge")


@pytest.fixture(autouse=True)
def no_page_faults() -> Iterator[None]:
    FAULTS.clear()
    yield
    assert FAULTS == []


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    assert found, "no Chromium, Chrome or Edge on the PATH"
    return {"executable_path": found, "args": FLAGS.split()}


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
