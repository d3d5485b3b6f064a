"""What was pressed, ticked, read or mended at the bench: facts with an instant, never changed afterwards.

A mistake is mended by a later event that points at the first one (`undo`, `mend`), so the list only grows and
every state of the run can be had back from it. The order of arrival means nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal

DRY_PHASES: Final = ("start", "closed", "turned", "opened")  # of a dry run, in order
Kind = Literal[
    "mixed",  # mixing of a shot started
    "gelled",  # its witness cup gelled
    "poured",  # it was poured at this instant (else inferred)
    "closed",  # the mold was shut at this instant (else inferred)
    "spoilt",  # it was not poured: let it set, mix again
    "amount",  # value: mass that really went in [kg]
    "tick",  # item: a box of a step
    "reading",  # item: what was weighed or measured; value: SI
    "dry",  # item: a phase of the dry run
    "photo",  # item: what it shows; the picture is a file named by the event's id
    "note",  # text
    "undo",  # target: the event that doesn't count
    "mend",  # target: the event that happened at this event's `at` instead
]


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing that happened at the bench."""

    id: str  # made by the device, unique; the same id twice is the same event
    kind: Kind
    at: float  # when it happened, the server's clock [s since 1970]
    shot: int | None = None  # index of the shot, from 0
    attempt: int = 0  # 0 for the first mix of a shot, 1 for the mix that replaces a spoilt one
    item: str = ""  # what was ticked, read, or which phase
    value: float | None = None  # SI
    target: str | None = None  # id of the event that this one mends
    text: str = ""
    device: str = ""  # which device pressed
    stamped: float = 0.0  # the device's own clock [s since 1970]


def standing(events: Iterable[Event]) -> tuple[Event, ...]:
    """The events that count, in the order in which they happened: undone ones left out, mended ones moved."""
    known = {event.id: event for event in events}
    undone = {e.target for e in known.values() if e.kind == "undo" and e.target in known}
    moved: dict[str, Event] = {}
    for event in sorted(known.values(), key=lambda e: (e.stamped, e.id)):
        if event.kind == "mend" and event.id not in undone and event.target in known:
            moved[event.target] = event
    counted = [
        replace(event, at=moved[event.id].at) if event.id in moved else event
        for event in known.values()
        if event.kind not in ("undo", "mend") and event.id not in undone
    ]
    return tuple(sorted(counted, key=lambda e: (e.at, e.stamped, e.id)))


def mended(events: Iterable[Event]) -> frozenset[str]:
    """Ids of the events whose instant was mended."""
    known = tuple(events)
    undone = {e.target for e in known if e.kind == "undo"}
    return frozenset(e.target for e in known if e.kind == "mend" and e.target and e.id not in undone)
