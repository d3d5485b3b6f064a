"""Ledger: the castings there are, what the bench heard of each, and the mending of its times."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from nicegui import run

from evenwall.bench.events import Event, standing
from evenwall.bench.facts import attempt_of, facts_of, instant_of
from evenwall.bench.ledger import BACKUPS, Casting, Ledger, backup, casting_of, castings, events_of, record
from evenwall.bench.mending import MENDABLE, last_entry, put_right, taken_back
from evenwall.bench.run import Instant, Score, instants_of, score_of
from evenwall.bench.words import words_of
from evenwall.web.bench import Bench, page_of, plan_now
from evenwall.web.runs import Runs
from evenwall.web.tags import knob, link, scroll, sheet, tag, words
from evenwall.web.window import Window, part

LEAD: Final = "What was cast, and what the bench heard. Every casting makes the next forecast better."
DEVICE: Final = "ledger"  # what entries made here are known by
DAY: Final = 86_400.0  # [s]


@dataclass(kw_only=True)
class Shown:
    """What this window shows of the ledger."""

    bench: Bench
    casting: str = ""  # whose times are open
    copied: str = "It is copied by itself once a day."  # what became of the latest copy
    again: Callable[[], None] = lambda: None


def build(window: Window, runs: Runs, ledger: Ledger) -> None:
    """The view's own part of the page."""
    shown = Shown(bench=Bench(ledger=ledger))
    with sheet("Castings"):
        _, shown.again = part(lambda: _castings(shown))
        shown.again()


def _castings(shown: Shown) -> None:
    ledger = shown.bench.ledger
    known = castings(ledger)
    if not known:
        words("p", "No casting is entered yet: the bench enters one when you begin.")
        return
    with scroll("Castings"), tag("table", "long"):
        with tag("thead"), tag("tr"):
            for head in ("casting", "begun", "shots", "heard", "", ""):
                words("th", head, scope="col") if head else words("td", "")
        with tag("tbody"):
            for casting in known:
                _row(shown, casting)
    _copy(shown)
    if shown.casting:
        _times(shown, casting_of(ledger, shown.casting))


def _row(shown: Shown, casting: Casting) -> None:
    def choose() -> None:
        shown.casting = "" if shown.casting == casting.id else casting.id
        shown.again()

    heard = len(events_of(shown.bench.ledger, casting.id))
    with tag("tr"):
        words("td", casting.name, dir="auto")
        words("td", time.strftime("%d %b %Y %H:%M", time.localtime(casting.begun)))
        words("td", str(len(casting.plan.shots)))
        words("td", f"{heard} {'entry' if heard == 1 else 'entries'}")
        with tag("td"):
            open_now = shown.casting == casting.id
            knob(
                "hide its times" if open_now else "mend its times",
                choose,
                "small plain",
                aria_expanded=str(open_now).lower(),
            )
        with tag("td"):
            link("open at the bench", page_of(casting.id))


def _copy(shown: Shown) -> None:
    async def copy() -> None:
        ledger = shown.bench.ledger
        made = await run.io_bound(backup, ledger, ledger.path.parent / BACKUPS)
        shown.copied = f"Copied to {made}."
        shown.again()

    with tag("div", "row"):
        knob("Copy the ledger now", copy, "small plain")
        words("p", shown.copied, "note", role="status")


def _times(shown: Shown, casting: Casting) -> None:
    """The instants of each shot: pressed, mended, inferred or forecast, and fields to put them right."""
    ledger = shown.bench.ledger
    events = events_of(ledger, casting.id)
    counted = standing(events)
    facts = facts_of(events, shots=len(casting.plan.shots))
    score = score_of(plan_now(shown.bench, casting, facts))

    def enter(event: Event) -> None:
        record(ledger, casting.id, [event])
        shown.again()

    with tag("div", "row"):
        words("h3", f"Times of {casting.name}", dir="auto")
        if last := last_entry(events):
            knob(
                "Undo the last entry",
                lambda: enter(taken_back(last, clock=ledger.clock, device=DEVICE)),
                "small plain",
            )
    begun = sorted({e.shot for e in counted if e.kind == "mixed" and e.shot is not None})
    if not begun:
        words("p", "Nothing was mixed yet.")
    for place in begun:
        _shot(shown, score, events, place, enter)


def _shot(
    shown: Shown, score: Score, events: tuple[Event, ...], place: int, enter: Callable[[Event], None]
) -> None:
    ledger, counted = shown.bench.ledger, standing(events)
    attempt = attempt_of(counted, shot=place)
    if instant_of(counted, "mixed", shot=place, attempt=attempt) is None:
        return

    def mend(one: Instant, at: float) -> None:
        enter(put_right(events, one, shot=place, attempt=attempt, at=at, clock=ledger.clock, device=DEVICE))

    names, how = words_of("en")["instant"], words_of("en")["how"]
    wanted = (*MENDABLE, "wetted", "film", "stop", "open")
    instants = instants_of(score, events, shot=place, attempt=attempt, at=ledger.clock())
    name = score.plan.shots[place].name
    with scroll(name), tag("table"):
        words("caption", name)
        with tag("tbody"):
            for one in (one for one in instants if one.name in wanted):
                with tag("tr"):
                    words("th", names[one.name], scope="row")
                    with tag("td"):
                        _time(one, f"{names[one.name]}, shot {place + 1}", mend)
                    words("td", how[one.how])


def _time(one: Instant, label: str, mend: Callable[[Instant, float], None]) -> None:
    """The time of day of an instant; a field where it can be put right."""
    shown = time.strftime("%H:%M:%S", time.localtime(one.at))
    if one.name not in MENDABLE:
        words("span", shown)
        return

    def put(change: Any) -> None:
        at = nearest(str(change.args), to=one.at)
        if at is not None:
            mend(one, at)

    field = tag("input", type="time", step="1", value=shown, aria_label=label)
    field.on("change", put, js_handler="(event) => emit(event.target.value)")


def nearest(text: str, *, to: float) -> float | None:
    """The instant [s since 1970] nearest `to` at which this computer's clock shows `text` (HH:MM or HH:MM:SS)."""
    try:
        parts = [int(part) for part in text.split(":")]
        hour, minute, second = (*parts, 0)[:3]
    except ValueError:
        return None
    day = time.localtime(to)
    at = time.mktime((day.tm_year, day.tm_mon, day.tm_mday, hour, minute, second, 0, 0, -1))
    return at + DAY * round((to - at) / DAY)
