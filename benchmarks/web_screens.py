"""Pictures of every view, wide and on a phone, by day and by night, for the docs and for a look at them.

python benchmarks/web_screens.py FOLDER [JOB]     (JOB: a folder with a job; the demo, planned first, if not given)
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from evenwall.web.desk import key_of
from evenwall.web.urls import VIEWS, view

FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --use-gl=angle --use-angle=swiftshader "
    "--enable-unsafe-swiftshader"
)
SIZES = {"wide": (1400, 900), "phone": (390, 844)}
SERVE = (
    "import sys; from pathlib import Path; from evenwall.web.app import serve; "
    "serve([Path(sys.argv[2])], browser=False, memory=Path(sys.argv[1]) / 'recent.json', home=Path(sys.argv[1]))"
)
SETTLED = 1500  # ms after the network is quiet: the 3-D view draws


def main() -> None:
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        job = Path(sys.argv[2]).resolve() if len(sys.argv) > 2 else planned_demo(Path(home))
        words = [sys.executable, "-c", SERVE, home, str(job)]
        server = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
        assert server.stderr is not None
        address = next(found.group(0) for line in server.stderr if (found := re.search(r"http://\S+", line)))
        try:
            with sync_playwright() as play:
                chromium = next(p for name in ("chromium", "google-chrome") if (p := shutil.which(name)))
                browser = play.chromium.launch(executable_path=chromium, args=FLAGS.split())
                for size in SIZES:
                    for light in ("light", "dark"):
                        shoot(browser, address, key_of(job), out, size, light)
                browser.close()
        finally:
            server.kill()


def planned_demo(home: Path) -> Path:
    """The demo with a quick forecast kept in it."""
    from evenwall.files.demo import make_demo

    folder = home / "demo"
    make_demo(folder)
    for words in (["read", str(folder)], ["forecast", str(folder), "run-1", "quick"]):
        command = [sys.executable, "-m", "evenwall.web.work", *words]
        with subprocess.Popen(command, stdin=subprocess.PIPE) as work:  # closed, it would ask to stop
            if work.wait() != 0:
                raise SystemExit(f"{words[0]} did not end well")
    return folder


def shoot(browser: Browser, address: str, key: str, out: Path, size: str, light: str) -> None:
    """All pages once."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=light)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(address)
    base = address.split("/job/")[0]
    pages = {"start": "/", **{name: view(key, name) for name in VIEWS}}
    for name, path in pages.items():
        page.goto(base + path)
        page.wait_for_load_state("networkidle")
        page.wait_for_timeout(SETTLED)
        page.screenshot(path=out / f"{name}-{size}-{light}.png", full_page=True)
        if name == "forecast" and page.locator("wall-view").count():
            page.get_by_label("against a lamp").check()
            page.locator("wall-view").scroll_into_view_if_needed()
            page.wait_for_timeout(SETTLED)
            page.locator("wall-view").screenshot(path=out / f"lamp-{size}-{light}.png")
    context.close()


if __name__ == "__main__":
    main()
