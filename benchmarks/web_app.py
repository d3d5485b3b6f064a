"""Weight and speed of the app: page weight (goal under 3 MB), first view (goal under 2 s), frames a second, answers.

python benchmarks/web_app.py JOB      (a job folder with a mesh and a kept forecast; see web_screens.py)
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright
from web_screens import FLAGS, SERVE

from evenwall.web.desk import key_of
from evenwall.web.urls import VIEWS, view

FRAMES = """async () => {
  const view = document.querySelector("wall-view");
  const began = performance.now();
  let drawn = 0;
  while (performance.now() - began < 4000) {
    view.shared.range.value.y += 1e-9;
    view.draw();
    await new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
    drawn += 1;
  }
  return [drawn / ((performance.now() - began) / 1000), view.geometry.index.count / 3];
}"""


TORUS = """() => {  // 50,000 triangles, whatever the job's mesh
  const [n, m] = [200, 125];
  const at = [], faces = [];
  for (let i = 0; i < n; i++) for (let j = 0; j < m; j++) {
    const [a, b] = [(2 * Math.PI * i) / n, (2 * Math.PI * j) / m];
    const r = 0.06 + 0.025 * Math.cos(b);
    at.push(r * Math.cos(a), r * Math.sin(a), 0.025 * Math.sin(b));
    const [p, q, s, t] = [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]].map(([x, y]) => (x % n) * m + (y % m));
    faces.push(p, q, s, p, s, t);
  }
  document.querySelector("wall-view").setShape(new Float32Array(at), new Uint32Array(faces));
}"""


def main() -> None:
    job = Path(sys.argv[1]).resolve()
    with tempfile.TemporaryDirectory() as home:
        words = [sys.executable, "-c", SERVE, home, str(job)]
        began = time.monotonic()
        server = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
        assert server.stderr is not None
        address = next(found.group(0) for line in server.stderr if (found := re.search(r"http://\S+", line)))
        print(f"start to address: {time.monotonic() - began:.2f} s")
        try:
            with sync_playwright() as play:
                chromium = next(p for name in ("chromium", "google-chrome") if (p := shutil.which(name)))
                browser = play.chromium.launch(executable_path=chromium, args=FLAGS.split())
                page = browser.new_context(viewport={"width": 1400, "height": 900}).new_page()
                measure(page, address, key_of(job))
                browser.close()
        finally:
            server.kill()


def measure(page: Page, address: str, key: str) -> None:
    """Print every figure."""
    weight = [0]
    channel = page.context.new_cdp_session(page)
    channel.send("Network.enable")
    channel.on(
        "Network.loadingFinished", lambda told: weight.__setitem__(0, weight[0] + told["encodedDataLength"])
    )
    base = address.split("/job/")[0]
    page.goto(address)
    page.wait_for_load_state("networkidle")
    for name in VIEWS:
        weight[0] = 0
        channel.send("Network.clearBrowserCache")
        began = time.monotonic()
        page.goto(base + view(key, name))
        page.locator("h1").wait_for()
        shown = time.monotonic() - began
        page.wait_for_load_state("networkidle")
        print(f"{name}: heading after {shown:.2f} s, {weight[0] / 1e6:.2f} MB on the wire, cache empty")
    page.goto(base + view(key, "piece"))
    page.wait_for_function("document.querySelector('wall-view')?.geometry")
    for shape in ("the job's mesh", "a torus"):
        rate, faces = page.evaluate(FRAMES)
        print(
            f"3-D view: {rate:.1f} frames a second, {shape}, {faces:.0f} triangles, uncut, software rendering"
        )
        page.evaluate(TORUS)
    page.goto(base + view(key, "coats"))
    page.locator(".cup").first.wait_for()
    field = page.get_by_label("Usual wall", exact=True)
    before = page.locator(".cup figcaption b").first.inner_text()
    field.fill("2.2")
    began = time.monotonic()
    while page.locator(".cup figcaption b").first.inner_text() == before:
        page.wait_for_timeout(5)
    print(
        f"an answer in Coats: {1000 * (time.monotonic() - began):.0f} ms after the last key, 40 of them a wait"
    )
    page.get_by_role("button", name="Undo").click()
    page.wait_for_timeout(500)
    page.goto(base + view(key, "forecast"))
    page.locator("[data-fineness=finest]").click()
    page.wait_for_function("document.querySelector('progress')?.value > 0", timeout=240_000)
    began = time.monotonic()
    page.get_by_role("button", name="Stop, keep what is there").click()
    page.locator("[data-fineness=finest]").wait_for()
    print(f"stopped {time.monotonic() - began:.2f} s after the press")


if __name__ == "__main__":
    main()
