"""Bench: the door to the page that runs the day."""

from __future__ import annotations

import time
from typing import Final

from nicegui import ui

from evenwall.bench.events import standing
from evenwall.bench.facts import dry_run
from evenwall.bench.ledger import Ledger, begin_recipe, castings, events_of
from evenwall.reports.summary import clock_time
from evenwall.web import rooms, urls
from evenwall.web.bench import page_of
from evenwall.web.casting_plan import bench_plan, bench_recipe
from evenwall.web.desk import value_at
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, knob, link, sheet, table, tag, words
from evenwall.web.window import Window, wants_piece

LEAD: Final = "The day itself. Two presses are enough: mixing started, gelled. The bench says the rest."
BEFORE: Final = (
    "The bench times a dry run: the empty mold closed, turned and opened once. Its times go into the plan.",
    "Weigh and label every cup before the first is mixed.",
    "Gloves, goggles, fresh air; nothing loose near the frame; the safety data sheet within reach.",
)


def build(window: Window, runs: Runs, ledger: Ledger) -> None:
    """The view's own part of the page."""
    with tag("div", "spread"):
        with sheet("Before the first press"):
            bullets(BEFORE)
            window.area(lambda: _dry_run(window, ledger))
        with sheet("Run a casting"):
            window.area(lambda: _plan(window, ledger))


def _dry_run(window: Window, ledger: Ledger) -> None:
    """What the latest dry run of this job took, and how it gets into the plan."""
    desk = window.desk
    own = (casting for casting in castings(ledger) if casting.folder == str(desk.folder))
    timed = next((took for one in own if (took := dry_run(standing(events_of(ledger, one.id))))), None)
    if timed is None or "closed" not in timed:
        return
    said = {"shop.close_s": round(timed["closed"], 1)}
    if "turned" in timed:
        said["shop.wet_s"] = round(timed["turned"], 1)
    opened = f", opening {timed['opened']:.0f} s" if "opened" in timed else ""
    turned = f", turning every side down {timed['turned']:.0f} s" if "turned" in timed else ""
    words("p", f"The latest dry run: closing {timed['closed']:.0f} s{turned}{opened}.")
    if all(value_at(desk.file, key)[0] == value for key, value in said.items()):
        words("p", "The plan goes by it.", "good")
    else:
        knob("Take these times into the plan", lambda: window.edit(said), "small")


def _plan(window: Window, ledger: Ledger) -> None:
    desk = window.desk
    if rooms.draft_now(desk.folder, desk.file) is None:
        wants_piece(window, "The bench needs a plan: say what the piece is.")
        return
    plan = bench_plan(desk.folder, desk.file)
    rows = [
        [shot.name, window.amount(shot.mass_a, "g"), window.amount(shot.mass_b_weighed, "g"),
         clock_time(shot.pour_within), clock_time(shot.gel_film)]
        for shot in plan.shots
    ]  # fmt: skip
    b = "B as weighed" if any(shot.mass_pigment > 0.0 for shot in plan.shots) else "B"
    table(["shot", "A", b, "pour within, min", "film gels, min"], rows, caption="The plan at the bench")
    if rooms.plan_now(desk.folder, desk.file) is None:
        words(
            "p",
            "By the wanted wall alone, without brush coat and cleaning shot: no forecast has tried it.",
            "doubt",
        )
        link("Try them in Forecast", urls.view(desk.key, "forecast"), "knob small")

    def start() -> None:
        recipe = bench_recipe(desk.folder, desk.file)
        casting = begin_recipe(ledger, recipe, folder=str(desk.folder))
        ui.navigate.to(page_of(casting.id))

    with tag("div", "row"):
        knob("Begin this casting", start, "main")
        latest = next((one for one in castings(ledger) if one.folder == str(desk.folder)), None)
        if latest is not None:
            begun = time.strftime("%d %b, %H:%M", time.localtime(latest.begun))
            link(f"Go on with the one of {begun}", page_of(latest.id), "knob plain")
