"""A forecast in the browser: progress, a live page, stop, runs that are kept, two side by side."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file
from evenwall.web import kept_runs

pytestmark = pytest.mark.browser
LAID = """() => [...document.querySelectorAll("wall-view")].map((view) => ({
  camera: [...view.camera.position, ...view.controls.target].map((x) => Math.round(1e6 * x)),
  cut: [...view.shared.cut.value], range: [...view.shared.range.value], wall: [...view.playing.thickness],
}))"""
Window = Callable[..., Page]


def test_forecasts_run_beside_the_app_are_kept_and_compared(app, opened: Window, job) -> None:
    folder, address = job("run")
    path = folder / "job.toml"
    constant = '[turning]\npattern = "constant"\n'  # spares the search for the best pushes
    path.write_text(path.read_text(encoding="utf-8") + constant, encoding="utf-8")
    page = opened(app, f"{address}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    page.goto(app.url(f"{address}/forecast"))
    page.locator("[data-fineness=quick]").click()
    expect(page.locator("progress")).to_be_visible()
    expect(page.locator("label[for=progress]")).to_contain_text(
        "Try 1", timeout=90_000
    )  # so the job as it stands is what is planned
    other = opened(app, f"{address}/resin")  # the app goes on answering
    answer = other.locator(".figure").filter(has_text="Working time").first
    before = answer.text_content() or ""
    other.get_by_label("Air", exact=True).fill("12")
    expect(answer).not_to_have_text(before)
    other.get_by_label("Air", exact=True).fill("22")  # as it was: the plan will hold
    expect(answer).to_have_text(before)
    expect(page.locator(".figure").filter(has_text="On average")).to_contain_text("±", timeout=300_000)
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
    paper = page.request.get(app.url(f"{address}/worksheet.pdf"), timeout=180_000)
    assert paper.body().startswith(b"%PDF-")
    for kept in (folder / "results").glob("run-*"):
        kept.unlink()  # what is left is what a plan made at the terminal leaves
    page.reload()
    expect(page.locator(".figure").filter(has_text="On average")).to_contain_text("±")

    other_rate = constant + "frame_rpm = 4.0\n"
    path.write_text(path.read_text(encoding="utf-8").replace(constant, other_rate), encoding="utf-8")
    refused = page.request.get(app.url(f"{address}/worksheet.pdf"), timeout=180_000)
    assert refused.status == 409  # the plan does not hold any more
    assert "run Forecast" in refused.text()
    first_run = kept_runs.load(folder, "run-1")
    assert first_run is not None
    thicker = replace(first_run, total=1.25 * first_run.total)
    kept_runs.keep(folder, "run-2", read_job_file(folder), thicker, fineness="quick", made=time.time())
    page.reload()
    expect(page.get_by_label("Which forecast", exact=True)).to_have_value("run-2")
    page.get_by_label("Beside it", exact=True).select_option("run-1")
    page.wait_for_function(
        "[...document.querySelectorAll('wall-view')].filter((v) => v.playing).length === 3"
    )
    page.locator("#wall canvas").focus()
    page.keyboard.press("ArrowLeft")
    page.locator("#wall").get_by_label("across x").check()
    one, two, less = page.evaluate(LAID)
    assert one["camera"] == two["camera"] == less["camera"]
    assert one["cut"] == two["cut"] == less["cut"]
    assert one["range"] == two["range"]
    np.testing.assert_allclose(less["wall"], 0.25 * first_run.total, atol=1e-8)


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
