"""The job walked in a real browser: on the demo, on a real model, without a scan."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file
from evenwall.web.urls import VIEWS

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


def to(page: Page, view: str) -> None:
    page.get_by_role("navigation", name="The job").get_by_role("link", name=view).click()
    expect(page.get_by_role("heading", level=1, name=view, exact=True)).to_be_visible()


def test_the_demo_is_explored_without_typing(app, opened: Window) -> None:
    page = opened(app)
    page.get_by_role("button", name="Open the demo").click()
    expect(page.get_by_text("Nothing had to be mended.")).to_be_visible(timeout=60_000)  # on a busy machine
    shown = page.evaluate(
        "() => new Promise(go => { const look = () => { const v = document.querySelector('wall-view');"
        "v?.geometry ? go(v.geometry.index.count / 3) : setTimeout(look, 50) }; look() })"
    )
    assert shown > 10_000
    to(page, "Forecast")  # its forecast was begun with it
    page.get_by_role("button", name="Stop, keep what is there").click()
    for view in VIEWS.values():
        to(page, view)
        expect(page.get_by_role("region", name=view, exact=True)).to_be_visible()
        if view != "Forecast":
            expect(page.locator(".refusal")).to_have_count(0)
    page.go_back()
    expect(page.get_by_role("heading", level=1, name="Bench")).to_be_visible()


def test_a_real_model_goes_from_file_to_cups(app, opened: Window, real_mesh: Callable[[str], Path]) -> None:
    page = opened(app)
    page.get_by_role("button", name="Start with a mesh").click()
    page.set_input_files("drop-mesh input", real_mesh("spot_triangulated.obj"))
    expect(page.locator(".refusal")).to_contain_text("unit")
    page.get_by_label("Or its true height", exact=True).fill("150,5")
    page.get_by_label("Axis that points up", exact=True).select_option("y")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_contain_text("measured on the mesh")
    size = page.locator(".figure").filter(has_text="Size").locator("dd").inner_text()
    assert "151" in size or "150" in size
    to(page, "Coats")
    expect(page.locator(".cup svg").first).to_be_visible()
    to(page, "Machine")
    expect(page.locator(".figure").filter(has_text="Push at the rim")).to_contain_text("N")
    to(page, "Turning")
    expect(page.get_by_role("img", name="Gravity's path")).to_be_visible()


def test_an_earlier_castings_weight_gives_a_plan_in_under_ten_entries(app, opened: Window) -> None:
    page = opened(app)
    page.get_by_role("button", name="Start without a scan").click()
    entries = {
        "Weight": "140",
        "Density of what it is cast in": "1,05",
        "Wall, several readings": "2.8 3.1 2.4 3.3",
    }
    for label, answer in entries.items():
        page.get_by_label(label, exact=True).fill(answer)
    area = page.locator(".figure").filter(has_text="Wall area").locator("dd")
    expect(area).to_contain_text("to")  # its band
    # a wall of 2.9 mm on the whole: area is about 140 g / (1.05 g/mL x 2.9 mm) = 460 cm2, a little more where curved
    assert 380 < float(area.inner_text().split()[0]) < 560
    to(page, "Coats")
    expect(page.locator(".cup svg").first).to_be_visible()
    expect(page.get_by_role("row", name="coat 1 of")).to_have_count(2)  # weights and minutes
    worth = page.locator("section").filter(has=page.get_by_role("heading", name="Worth saying"))
    expect(worth.get_by_role("listitem").filter(has_text="known to ±")).to_have_count(1)
    worth.get_by_role("link", name="the resin in the jugs").click()
    expect(page.get_by_label("Resin in the jugs", exact=True)).to_be_focused()
    page.keyboard.type("19")
    to(page, "Coats")
    expect(page.locator(".cup svg").first).to_be_visible()
    expect(worth.get_by_role("listitem").first).to_be_visible()
    expect(worth.get_by_role("link", name="the resin in the jugs")).to_have_count(
        0
    )  # said, so not asked again
    to(page, "Turning")
    expect(page.get_by_role("img", name="Gravity's path")).to_be_visible()
    newest = max(app.home.glob("job-*"), key=lambda folder: folder.stat().st_mtime)
    changes = json.loads((newest / ".changes.json").read_text(encoding="utf-8"))
    answered = [text for text in changes["past"] if text]
    assert len(entries) + 1 <= len(answered) < 10  # every pause in typing counts as an entry here


def test_a_casting_begins_at_the_bench_and_stands_in_the_ledger(app, opened: Window, job) -> None:
    _, address = job("casting")
    page = opened(app, f"{address}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    to(page, "Bench")
    page.get_by_role("button", name="Begin this casting").click()
    page.wait_for_url("**/bench/casting/*")
    expect(page.locator("#start h1")).not_to_be_empty()
    page.goto(app.url(f"{address}/ledger"))
    expect(page.get_by_role("row").filter(has_text="casting")).not_to_have_count(0)
    expect(page.get_by_role("link", name="open at the bench").first).to_be_visible()


def test_a_file_that_is_no_mesh_is_refused_in_one_sentence(app, opened: Window) -> None:
    page = opened(app)
    page.get_by_role("button", name="Start with a mesh").click()
    drop = "drop-mesh input"
    page.set_input_files(drop, {"name": "../../x.exe", "mimeType": "x/y", "buffer": b"MZ"})
    expect(page.locator(".drop-state")).to_contain_text("STL")
    page.set_input_files(drop, {"name": "broken.stl", "mimeType": "x/y", "buffer": b"solid nothing"})
    page.get_by_label("Its unit", exact=True).select_option("mm")
    expect(page.locator(".refusal").first).to_be_visible(
        timeout=60_000
    )  # two reading processes, one after the other
    assert not list(app.home.rglob("x.exe"))


def test_a_long_name_in_another_script_is_kept_and_does_not_break_the_page(app, opened: Window, job) -> None:
    folder, address = job("plain")
    page = opened(app, f"{address}/piece", viewport={"width": 390, "height": 844})
    name = "菊石の複製 " + "Donaudampfschifffahrtsgesellschaft" * 2 + " أمونيت"
    page.get_by_label("What it is called", exact=True).fill(name)
    expect(page.locator(".job-name")).to_have_text(name)
    assert read_job_file(folder).name == name
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("view", VIEWS)
def test_no_view_scrolls_sideways_on_a_phone_or_at_twice_the_size(
    app, opened: Window, job, view: str
) -> None:
    _, address = job(f"narrow-{view}")
    page = opened(app, f"{address}/{view}", viewport={"width": 390, "height": 844}, color_scheme="dark")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.set_viewport_size({"width": 700, "height": 450})  # 1400 x 900 at 200 %
    assert page.evaluate("document.documentElement.scrollWidth") <= 700


@pytest.mark.parametrize("way", ["drop", "paste"])
def test_a_mesh_can_be_dropped_and_pasted(app, opened: Window, ball_obj: str, way: str) -> None:
    page = opened(app)
    page.get_by_role("button", name="Start with a mesh").click()
    expect(page.locator("drop-mesh input")).to_be_attached()
    page.evaluate(
        """([way, text]) => {
          const data = new DataTransfer();
          data.items.add(new File([text], "ball.obj"));
          const place = document.querySelector("drop-mesh");
          if (way === "drop") place.dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true }));
          else dispatchEvent(new ClipboardEvent("paste", { clipboardData: data }));
        }""",
        [way, ball_obj],
    )
    page.get_by_label("Its unit", exact=True).select_option("mm")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible(timeout=60_000)
