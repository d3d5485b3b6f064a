"""Ledger: the castings there are."""

from __future__ import annotations

import time
from typing import Final

from evenwall.bench.ledger import Ledger, castings, events_of
from evenwall.web.bench import page_of
from evenwall.web.runs import Runs
from evenwall.web.tags import link, tag, words
from evenwall.web.window import Window

LEAD: Final = "What was cast, and what the bench heard. Every casting makes the next forecast better."


def build(window: Window, runs: Runs, ledger: Ledger) -> None:
    """The view's own part of the page."""
    with tag("section", "sheet"):
        words("h2", "Castings")
        window.area(lambda: _castings(ledger))


def _castings(ledger: Ledger) -> None:
    known = castings(ledger)
    if not known:
        words("p", "No casting is entered yet: the bench enters one when you begin.")
        return
    with tag("div", "scroll", tabindex="0", role="region", aria_label="Castings"), tag("table", "long"):
        with tag("thead"), tag("tr"):
            for head in ("casting", "begun", "shots", "heard", ""):
                words("th", head, scope="col") if head else words("td", "")
        with tag("tbody"):
            for casting in known:
                with tag("tr"):
                    words("td", casting.name, dir="auto")
                    words("td", time.strftime("%d %b %Y %H:%M", time.localtime(casting.begun)))
                    words("td", str(len(casting.plan.shots)))
                    words("td", f"{len(events_of(ledger, casting.id))} presses")
                    with tag("td"):
                        link("open at the bench", page_of(casting.id))
