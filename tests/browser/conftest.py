"""The browser that all browser tests use: one that is already on this machine."""

from __future__ import annotations

import shutil

import pytest

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --use-gl=angle --use-angle=swiftshader "
    "--enable-unsafe-swiftshader"
)
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge", "microsoft-edge")


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """A browser that is already on this machine; none is downloaded."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    assert found, "no Chromium, Chrome or Edge on the PATH"
    return {"executable_path": found, "args": FLAGS.split()}
