"""The size of a piece by two of its places and the distance between them: tapped, by keys, or typed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


def test_two_points_and_their_distance_give_the_size_and_undo_takes_it_back(app, opened: Window, job) -> None:
    folder, address = job("two-points")
    page = opened(app, f"{address}/piece")
    page.wait_for_function("document.querySelector('wall-view')?.geometry", timeout=60_000)
    size = page.locator(".figure").filter(has_text="x × y × z")
    expect(size).to_contain_text("120 × ")
    view = page.locator("wall-view canvas")
    box = view.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    page.get_by_role("button", name="Measure from here").click()
    expect(page.locator(".mark-point")).to_have_count(1)
    view.focus()
    for key in ("ArrowLeft", "ArrowLeft", "ArrowLeft", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    page.get_by_role("button", name="Measure to here").click()
    expect(page.locator(".mark-point")).to_have_count(2)
    first, second = np.array(read_job_file(folder).piece.between)
    apart = float(np.linalg.norm(second - first))
    for point in (first, second):  # the facets of the ball of 60 mm in the file lie just within it
        assert 0.95 * 60.0 < np.linalg.norm(point) < 60.01
    expect(page.get_by_text("On the piece they are")).to_contain_text(f"{apart:.2f} mm apart; it is 120 × ")

    measured = page.get_by_label("Measured between them", exact=True)
    measured.fill(f"{1.5 * apart:.4f}")
    expect(size).to_contain_text(
        "180 × "
    )  # similar figures: every length in the same ratio (Euclid VI, def. 1)
    page.get_by_role("button", name="Undo").click()
    expect(size).to_contain_text("120 × ")

    page.get_by_label("Both points", exact=True).fill("0 0 -60; 0 0")
    field = page.locator("shop-field").filter(has=page.get_by_label("Both points", exact=True))
    expect(field.locator(".error")).to_contain_text("5 numbers are not x, y and z of each point")
    page.get_by_label("Both points", exact=True).fill("0 0 -60; 0 0 60")
    measured.fill("90")
    expect(size).to_contain_text("90 mm")
    page.get_by_role("button", name="Forget the points").click()
    expect(size).to_contain_text("120 × ")
    assert read_job_file(folder).piece.between == []
