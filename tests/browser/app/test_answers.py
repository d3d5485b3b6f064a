"""Forms answer as one types; nothing is lost; two windows agree."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


def test_answers_follow_while_typing_and_refusals_stand_beside_the_field(app, opened: Window, job) -> None:
    folder, address = job("typing")
    page = opened(app, f"{address}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    page.goto(app.url(f"{address}/coats"))
    wall = page.get_by_label("Usual wall", exact=True)
    cups = page.locator(".cup figcaption b")
    expect(cups).to_have_count(1)
    wall.press("Control+a")
    wall.press_sequentially("2,5")
    expect(cups).not_to_have_count(1)
    assert read_job_file(folder).wall.target_wall_mm == 2.5
    wall.fill("-3")
    field = page.locator("shop-field").filter(has=wall)
    expect(field.locator(".error")).to_have_text("Usual wall is -3 mm and must be more than 0 mm.")
    expect(wall).to_have_attribute("aria-invalid", "true")
    assert read_job_file(folder).wall.target_wall_mm == 2.5
    wall.fill("thick")
    expect(field.locator(".error")).to_contain_text("not a number")
    wall.press("Escape")
    expect(wall).to_have_value("2.5")
    expect(field.locator(".error")).to_be_hidden()
    wall.fill("55")
    expect(page.locator(".refusal").first).to_contain_text("want a wall under")


def test_undo_redo_and_units(app, opened: Window, job) -> None:
    folder, address = job("undoing")
    page = opened(app, f"{address}/coats")
    wall = page.get_by_label("Usual wall", exact=True)
    wall.fill("2")
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    page.locator("h1").click()
    page.keyboard.press("Control+z")
    expect(wall).to_have_value("1")
    page.keyboard.press("Control+Shift+z")
    expect(wall).to_have_value("2")
    page.get_by_role("button", name="Units: metric").click()
    expect(wall).to_have_value("0.07874")  # 2 mm; 1 inch is 25.4 mm exactly (agreement of 1959)
    wall.fill("1/8")
    expect(page.locator("shop-field").filter(has=wall).locator(".error")).to_be_hidden()
    page.reload()
    expect(page.get_by_label("Usual wall", exact=True)).to_have_value("0.125")
    assert read_job_file(folder).wall.target_wall_mm == pytest.approx(3.175)


def test_two_windows_see_each_others_changes_and_the_files(app, opened: Window, job) -> None:
    folder, address = job("two")
    one = opened(app, f"{address}/coats")
    two = opened(app, f"{address}/coats")
    one.get_by_label("Usual wall", exact=True).fill("1.75")
    expect(two.get_by_label("Usual wall", exact=True)).to_have_value("1.75")
    path = folder / "job.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("1.75", "2.25"), encoding="utf-8")
    expect(two.get_by_label("Usual wall", exact=True)).to_have_value("2.25")
    expect(one.get_by_label("Number of coats", exact=True)).to_have_value("")
    path.write_text("[wall", encoding="utf-8")
    expect(two.get_by_role("alert").first).to_contain_text("TOML")


def test_reload_and_restart_in_the_middle_lose_nothing(own_app, opened: Window) -> None:
    page = opened(own_app)
    page.get_by_role("button", name="Start without a scan").click()
    page.get_by_label("Weight", exact=True).fill("212,5")
    page.get_by_label("Wall, several readings", exact=True).fill("2.8 3,1 2.4")
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    page.reload()
    expect(page.get_by_label("Weight", exact=True)).to_have_value("212.5")
    address = page.url
    before = own_app.address
    own_app.stop()
    own_app.start()
    assert own_app.address != before
    page.goto(own_app.address)
    page.goto(address)
    expect(page.get_by_label("Wall, several readings", exact=True)).to_have_value("2.8 3.1 2.4")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_label("Wall, several readings", exact=True)).not_to_have_value("2.8 3.1 2.4")


def test_where_a_number_comes_from_is_told_on_a_tap(app, opened: Window, job) -> None:
    _, address = job("origins")
    page = opened(app, f"{address}/coats")
    field = page.locator("shop-field").filter(has=page.get_by_label("Stirring one shot", exact=True))
    button = field.get_by_role("button")
    expect(button).to_have_text("typical")
    button.click()
    expect(field.locator(".origin-text")).to_contain_text("not measured here")
    field.get_by_role("textbox").fill("50")
    expect(button).to_have_text("yours")


def test_a_bookmark_of_a_job_that_is_gone_says_so(app, opened: Window) -> None:
    page = opened(app, "/job/0123456789ab/coats")
    expect(page.get_by_role("heading", level=1)).to_have_text("This job is not open here")
    assert not (Path(app.home) / "0123456789ab").exists()
