"""A forecast in the browser: progress, a live page, stop, runs that are kept, two side by side."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


def test_forecasts_run_beside_the_app_are_kept_and_compared(app, opened: Window, job) -> None:
    folder, address = job("run")
    page = opened(app, f"{address}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    page.goto(app.url(f"{address}/forecast"))
    page.locator("[data-fineness=quick]").click()
    expect(page.locator("progress")).to_be_visible()
    other = opened(app, f"{address}/resin")  # the app goes on answering
    other.get_by_label("Air", exact=True).fill("24")
    expect(other.locator(".figure").filter(has_text="Working time")).to_be_visible()
    expect(page.locator(".figure").filter(has_text="On average")).to_contain_text("±", timeout=120_000)
    page.get_by_label("Look at", exact=True).select_option("1")
    page.wait_for_function("document.querySelector('#wall')?.playing?.times?.length > 3")
    first = page.locator(".moment").inner_text()
    page.locator(".when").fill("1")
    expect(page.locator(".moment")).not_to_have_text(first)
    page.locator("#wall canvas").focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(page.locator(".reading")).to_contain_text("Wall here:")
    assert (folder / "results" / "run-1.npz").exists()


def test_stop_takes_a_second_and_leaves_the_page_alive(app, opened: Window, job) -> None:
    _, address = job("stopped")
    page = opened(app, f"{address}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    page.goto(app.url(f"{address}/forecast"))
    page.locator("[data-fineness=finest]").click()
    expect(page.locator("progress")).to_be_visible()
    began = time.monotonic()
    page.get_by_role("button", name="Stop, keep what is there").click()
    expect(page.locator("[data-fineness=finest]")).to_be_visible()
    assert time.monotonic() - began < 20  # a hang, not a speed: see benchmarks for the second
    page.locator("[data-fineness=quick]").focus()
