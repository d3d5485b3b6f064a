"""Bench: the door to the page that runs the day."""

from __future__ import annotations

from typing import Final

from nicegui import ui

from evenwall.bench.ledger import Ledger, begin_recipe
from evenwall.web import rooms, urls
from evenwall.web.amounts import clock
from evenwall.web.bench import page_of
from evenwall.web.casting_plan import bench_plan, bench_recipe
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, knob, link, table, tag, words
from evenwall.web.window import Window

LEAD: Final = "The day itself. Two presses are enough: mixing started, gelled. The bench says the rest."
DRY_RUN: Final = (
    "Empty mold: close, clamp, turn and open it once against the clock, and tell Coats how long the closing took.",
    "Weigh and label every cup before the first is mixed.",
    "Gloves, goggles, fresh air; nothing loose near the frame; the safety data sheet within reach.",
)


def build(window: Window, runs: Runs, ledger: Ledger) -> None:
    """The view's own part of the page."""
    with tag("div", "spread"):
        with tag("section", "sheet"):
            words("h2", "Before the first press")
            bullets(DRY_RUN)
        with tag("section", "sheet"):
            words("h2", "Run a casting")
            window.area(lambda: _plan(window, ledger))


def _plan(window: Window, ledger: Ledger) -> None:
    desk = window.desk
    if rooms.draft_now(desk.folder, desk.file) is None:
        words("p", "The bench needs a plan: say what the piece is.")
        link("To Piece", urls.view(desk.key, "piece"), "knob")
        return
    plan = bench_plan(desk.folder, desk.file)
    rows = [
        [shot.name, window.amount(shot.mass_a, "g"), window.amount(shot.mass_b, "g"), clock(shot.pour_within),
         clock(shot.gel_film)]
        for shot in plan.shots
    ]  # fmt: skip
    table(["shot", "A", "B", "pour within", "film gels"], rows, caption="The plan at the bench")

    def start() -> None:
        casting = begin_recipe(ledger, bench_recipe(desk.folder, desk.file))
        ui.navigate.to(page_of(casting.id))

    with tag("div", "row"):
        knob("Begin this casting", start, "main")
        link("Go on with the latest", "/bench", "knob plain")
