"""The 3-D view: the cut shows the true wall, a lamp shines through it by Beer-Lambert's law, keys read it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
Window = Callable[..., Page]
EVEN_WALL = """(wall) => {
  const view = document.querySelector("wall-view");
  const n = view.geometry.attributes.position.count;
  view.setFilm({ arrays: { thickness: new Float32Array(n).fill(wall) }, shapes: { thickness: [1, n] }, meta: {} });
}"""
CAPPED = """() => {  // pixels that show the cut's cap
  const view = document.querySelector("wall-view");
  view.palm.visible = false;
  view.home([0, -1, 0.12]);
  view.cap.material.color.set(1, 0, 1);
  const paint = view.cap.material.color.copy;
  view.cap.material.color.copy = () => {};
  view.render();
  const gl = view.renderer.getContext();
  const [w, h] = [gl.drawingBufferWidth, gl.drawingBufferHeight];
  const pixels = new Uint8Array(4 * w * h);
  gl.readPixels(0, 0, w, h, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
  view.cap.material.color.copy = paint;
  let count = 0;
  for (let k = 0; k < pixels.length; k += 4) count += pixels[k] > 250 && pixels[k + 1] < 5 && pixels[k + 2] > 250;
  return count;
}"""


@pytest.fixture
def ball(app, opened: Window, job, request: pytest.FixtureRequest) -> Page:
    """The ball of 120 mm across in the Piece view."""
    _, address = job(f"ball-{request.node.originalname}")
    page = opened(app, f"{address}/piece")
    page.wait_for_function("document.querySelector('wall-view')?.geometry", timeout=60_000)
    return page


def test_the_cut_shows_the_true_wall(ball: Page) -> None:
    ball.get_by_label("across y").check()
    solid = ball.evaluate(CAPPED)
    ball.evaluate(EVEN_WALL, 0.012)
    ring = ball.evaluate(CAPPED)
    assert solid > 2000
    # a ring of 12 mm in a disc of 60 mm radius: 1 - (48/60)^2 of the disc (plane geometry)
    assert ring / solid == pytest.approx(1 - 0.8**2, rel=0.05)


def test_a_lamp_shines_through_by_the_law(ball: Page) -> None:
    ball.evaluate(EVEN_WALL, 0.003)
    view = ball.locator("wall-view")
    view.get_by_label("against a lamp").check()
    view.get_by_label("Wall that lets half of the light through").fill("1.5")
    view.locator("canvas").focus()
    ball.keyboard.press("Enter")
    # two half-value thicknesses let a quarter through (Beer-Lambert law, IUPAC Gold Book B00626)
    expect(view.locator(".reading")).to_contain_text("3.00 mm, 25 % of the light")
    passes = "async ([a, h]) => (await import('/parts/lamp.js')).passes(a, h)"
    once, twice = (ball.evaluate(passes, [thickness, 0.0011]) for thickness in (0.002, 0.004))
    assert twice == pytest.approx(once**2)  # T(2d) = T(d)^2


def test_a_tap_reads_the_wall_and_names_a_side(ball: Page) -> None:
    ball.evaluate(EVEN_WALL, 0.002)
    box = ball.locator("wall-view canvas").bounding_box()
    assert box is not None
    ball.mouse.click(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    expect(ball.locator(".reading")).to_contain_text("Wall here: 2.00 mm")
    ball.get_by_role("button", name="This is the face").click()
    expect(ball.locator(".mark-side")).to_have_text("face")
