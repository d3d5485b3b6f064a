"""The app as a user starts it, in a process of its own, and a browser window that notes what leaves the machine."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
from playwright.sync_api import Browser, Page, expect

from evenwall.web.desk import key_of

expect.set_options(timeout=20_000)  # for a busy machine
SERVE = """
import sys
from pathlib import Path
from evenwall.web.app import serve
home = Path(sys.argv[1])
serve([Path(job) for job in sys.argv[3:]], port=int(sys.argv[2]), browser=False, memory=home / "recent.json", home=home)
"""


@dataclass
class App:
    """A running app."""

    home: Path
    port: int = 0
    address: str = ""  # with the token, as it was printed
    process: subprocess.Popen[bytes] | None = None

    def start(self, *jobs: Path) -> None:
        kept = {
            k: v for k, v in os.environ.items() if k != "PYTEST_CURRENT_TEST" and not k.startswith("NICEGUI")
        }
        kept["XDG_CACHE_HOME"] = str(self.home / "cache")
        words = [sys.executable, "-c", SERVE, str(self.home), str(self.port), *map(str, jobs)]
        log = self.home / "app.log"  # a file: a pipe that nobody reads on would fill and hold the app up
        with log.open("a", encoding="utf-8") as to:
            said = to.tell()
            self.process = subprocess.Popen(words, env=kept, stderr=to)
        until = time.monotonic() + 60.0
        while time.monotonic() < until and self.process.poll() is None:
            if found := re.search(rb"http://\S+(?=\n)", log.read_bytes()[said:]):
                self.address = found.group(0).decode()
                self.port = urlsplit(self.address).port or 0
                return
            time.sleep(0.05)
        raise AssertionError(f"the app did not start: {log.read_text(encoding='utf-8')[said:]}")

    def stop(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def url(self, path: str = "/") -> str:
        return f"http://127.0.0.1:{self.port}{path}"


@pytest.fixture(scope="session")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """One app for all tests that leave each other alone."""
    running = App(home=tmp_path_factory.mktemp("shop"))
    running.start()
    yield running
    running.stop()


@pytest.fixture
def own_app(tmp_path: Path) -> Iterator[App]:
    """An app that a test may stop and start again."""
    with (
        socket.socket() as free
    ):  # a port of its own, so that no other test's app takes it while this one is down
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    running = App(home=tmp_path / "shop", port=port)
    running.home.mkdir()
    running.start()
    yield running
    running.stop()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens windows; afterwards nothing may have left this machine, and no script may have failed."""
    contexts, strays, faults = [], [], []

    def open_window(app: App, path: str = "/", **options: object) -> Page:
        settings: dict[str, object] = {"viewport": {"width": 1400, "height": 900}, **options}
        context = browser.new_context(**settings)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(30_000)

        def note(url: str) -> None:
            parts = urlsplit(url)
            if parts.scheme not in ("data", "blob", "about") and parts.hostname != "127.0.0.1":
                strays.append(url)

        page.on("request", lambda request: note(request.url))
        page.on("websocket", lambda channel: note(channel.url))
        page.on("pageerror", lambda error: faults.append(f"{error} {error.stack}"))
        page.goto(app.address)
        if path != "/":
            page.goto(app.url(path))
        return page

    yield open_window
    for context in contexts:
        context.close()
    assert strays == []
    assert faults == []


@pytest.fixture(scope="session")
def ball_obj() -> str:
    """A ball of 120 mm across, in millimetres, as OBJ text: small, so its forecast is quick."""
    rings, spokes = 12, 20
    tilt = np.linspace(0.0, np.pi, rings + 1)[1:-1]
    turn = 2.0 * np.pi * np.arange(spokes) / spokes
    points = [(0.0, 0.0, 60.0)]
    points += [
        (60 * np.sin(a) * np.cos(b), 60 * np.sin(a) * np.sin(b), 60 * np.cos(a)) for a in tilt for b in turn
    ]
    points.append((0.0, 0.0, -60.0))

    def at(ring: int, spoke: int) -> int:
        return 2 + ring * spokes + spoke % spokes

    faces = [(1, at(0, k), at(0, k + 1)) for k in range(spokes)]
    for ring in range(rings - 2):
        for k in range(spokes):
            faces.append((at(ring, k), at(ring + 1, k), at(ring + 1, k + 1)))
            faces.append((at(ring, k), at(ring + 1, k + 1), at(ring, k + 1)))
    faces += [(len(points), at(rings - 2, k + 1), at(rings - 2, k)) for k in range(spokes)]
    lines = [f"v {x:.5f} {y:.5f} {z:.5f}" for x, y, z in points] + [f"f {a} {b} {c}" for a, b, c in faces]
    return "\n".join(lines)


@pytest.fixture
def job(app: App, ball_obj: str) -> Callable[[str], tuple[Path, str]]:
    """Makes a job folder with the ball in it that the app knows; the folder, and its views' address."""

    def make(name: str) -> tuple[Path, str]:
        folder = app.home / name
        folder.mkdir()
        (folder / "ball.obj").write_text(ball_obj, encoding="utf-8")
        lines = (
            f'name = "{name}"',
            "[piece]",
            'mesh = "ball.obj"',
            'unit = "mm"',
            "[wall]",
            "target_wall_mm = 1.0",
        )
        (folder / "job.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
        memory = app.home / "recent.json"
        known = json.loads(memory.read_text(encoding="utf-8")) if memory.exists() else []
        memory.write_text(json.dumps([str(folder), *known]), encoding="utf-8")
        return folder, f"/job/{key_of(folder)}"

    return make
