"""The resin in a real browser: a value corrected, a cup test taken in, a new sheet begun, refusals in their place."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file
from evenwall.files.resin_file import load_sheet

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


def test_a_value_is_corrected_and_a_cup_test_taken_in(app, opened: Window, job) -> None:
    folder, address = job("resin")
    page = opened(app, f"{address}/resin")
    # by key, since a chart that comes late moves what a click aims at
    page.get_by_text("Type or correct it").press("Enter")
    page.get_by_label("What you type is", exact=True).select_option("measured")
    page.get_by_label("Pot life", exact=True).fill("4,5")
    page.get_by_label("Pot life", exact=True).press("Tab")
    expect(page.locator("shop-field[data-key='sheet.pot_life']")).to_have_attribute("source", "measured")
    assert read_job_file(folder).resin.name == "museum-gradual.toml"
    life = load_sheet(folder / "museum-gradual.toml").pot_life
    assert (life.number, life.pedigree) == (270.0, "measured")

    page.get_by_label("Viscosity", exact=True).fill("much")
    page.get_by_label("Viscosity", exact=True).press("Tab")
    expect(page.locator("shop-field.refused .error")).to_contain_text("is not a number")

    page.get_by_text("Cup tests", exact=True).click()
    page.get_by_role("button", name="Take this test in").click()
    expect(page.locator(".refusal")).to_contain_text("cup test 1")
    for label, text in (
        ("Weight of the cup's mix", "5"),
        ("Resin when mixed", "22"),
        ("Gelled after", "9,5"),
    ):
        page.get_by_label(label, exact=True).fill(text)
        page.get_by_label(label, exact=True).press("Tab")
    page.get_by_role("button", name="Take this test in").click()
    expect(page.get_by_text("cup test 1: gelled after 9:30")).to_be_visible()
    page.get_by_role("button", name="Forget test 1").click()
    expect(page.get_by_text("cup test 1:")).to_have_count(0)


def test_a_new_sheet_is_begun_with_three_numbers(app, opened: Window, job) -> None:
    folder, address = job("new resin")
    page = opened(app, f"{address}/resin")
    page.get_by_text("Another resin").click()
    for label, text in (
        ("What it is called", "Our White"),
        ("Its parts A : B by weight", "100:90"),
        ("Its pot life", "3"),
    ):
        page.get_by_label(label, exact=True).fill(text)
        page.get_by_label(label, exact=True).press("Tab")
    page.get_by_role("button", name="Begin its sheet").click()
    expect(page.locator("shop-field[data-key='resin.name'] select")).to_have_value("our-white.toml")
    assert read_job_file(folder).resin.name == "our-white.toml"
    expect(page.get_by_text("Typical or assumed, because the sheet is silent")).to_be_visible()
    expect(page.get_by_text("is assumed and moves the film's gel")).to_be_visible()
