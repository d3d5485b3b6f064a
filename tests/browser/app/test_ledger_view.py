"""The Ledger's and the Bench's view: times put right and taken back, the dry run taken into the plan."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from evenwall.bench import ledger as book
from evenwall.bench.casting import BenchPlan, ShotPlan
from evenwall.bench.events import Event, standing
from evenwall.files.job_file import read_job_file

pytestmark = pytest.mark.browser


def a_plan() -> BenchPlan:
    times = {"stir_for": 45.0, "pour_at": 50.0, "pour_within": 90.0, "pour_last": 140.0, "closed_within": 130.0,
             "close_for": 25.0, "wet_for": 20.0, "gel_cup": 240.0, "gel_film": 420.0, "gel_film_late": 480.0,
             "turn_until": 450.0, "next_from": 600.0, "next_to": 1500.0}  # fmt: skip
    shot = ShotPlan(name="coat 1 of 1", kind="coat", mass_a=0.04, mass_b=0.036, **times)
    return BenchPlan(name="mended", shots=(shot,), open_after=900.0, room=295.15, mold=295.15)


def test_times_are_put_right_and_taken_back_later(app, opened: Callable[..., Page], job) -> None:
    folder, address = job("mended")
    opened_book = book.open_ledger(app.home, clock=time.time)
    casting = book.begin(opened_book, a_plan(), folder=str(folder.resolve()))
    mixed = time.time() - 600.0
    steps = {"start": 0.0, "closed": 33.0, "turned": 50.0, "opened": 75.0}
    dry = [
        Event(id=f"d{k}", kind="dry", item=item, at=mixed - 500.0 + at)
        for k, (item, at) in enumerate(steps.items())
    ]
    book.record(
        opened_book, casting.id, [*dry, Event(id="m1", kind="mixed", at=mixed, shot=0, stamped=mixed)]
    )
    page = opened(app, f"{address}/ledger")
    row = page.get_by_role("row").filter(has_text="mended")
    row.get_by_role("button", name="mend its times").click()
    poured = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name="poured", exact=True))
    expect(poured).to_contain_text("inferred")
    wanted = time.strftime("%H:%M:%S", time.localtime(mixed + 81.0))
    poured.locator("input").fill(wanted)
    poured.locator("input").blur()
    expect(poured).to_contain_text("pressed")
    expect(poured.locator("input")).to_have_value(wanted)
    (fact,) = [e for e in standing(book.events_of(opened_book, casting.id)) if e.kind == "poured"]
    assert fact.at == pytest.approx(mixed + 81.0, abs=1.0)
    page.get_by_role("button", name="Undo the last entry").click()
    expect(poured).to_contain_text("inferred")
    page.get_by_role("button", name="Copy the ledger now").click()
    expect(page.get_by_text("Copied to")).to_be_visible()
    assert len(list((app.home / book.BACKUPS).glob("ledger-*.sqlite"))) >= 1

    page.goto(app.url(f"{address}/bench"))
    expect(page.get_by_text("closing 33 s, turning every side down 17 s, opening 25 s")).to_be_visible()
    page.get_by_role("button", name="Take these times into the plan").click()
    expect(page.get_by_text("The plan goes by it.")).to_be_visible()
    shop = read_job_file(folder).shop
    assert (shop.close_s, shop.wet_s) == (33.0, 17.0)
