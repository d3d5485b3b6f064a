"""Mending of what was pressed or inferred, at the bench or later in the ledger: always a new entry, with undo."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final
from uuid import uuid4

from evenwall.bench.clock import Clock
from evenwall.bench.events import Event, Kind, standing
from evenwall.bench.facts import instant_of
from evenwall.bench.run import Instant
from evenwall.errors import InputError

MENDABLE: Final[tuple[Kind, ...]] = ("mixed", "poured", "closed", "gelled")


def put_right(
    events: Iterable[Event],
    instant: Instant,
    *,
    shot: int,
    attempt: int,
    at: float,
    clock: Clock,
    device: str,
) -> Event:
    """The entry that moves `instant` of a mix of `shot` to `at` [s since 1970].

    A pressed instant is mended; an inferred one becomes a fact at the place where the user puts it. Raises
    InputError for an instant that follows from others.
    """
    kind = next((kind for kind in MENDABLE if kind == instant.name), None)
    if kind is None:
        raise InputError(f"{instant.name} follows from other times: mend one of {', '.join(MENDABLE)}")
    pressed = instant_of(standing(events), kind, shot=shot, attempt=attempt)
    fact = Event(id=uuid4().hex, kind=kind, at=at, shot=shot, attempt=attempt, device=device, stamped=clock())
    return fact if pressed is None else replace(fact, kind="mend", target=pressed.id)


def last_entry(events: Iterable[Event]) -> Event | None:
    """The entry that undo takes back: the one made last, mended times too."""
    told = tuple(events)
    undone = {event.target for event in told if event.kind == "undo"}
    able = [e for e in told if e.kind not in ("undo", "photo") and e.id not in undone]
    return max(able, key=lambda e: (e.stamped, e.id), default=None)


def taken_back(event: Event, *, clock: Clock, device: str) -> Event:
    """The entry that takes `event` back."""
    now = clock()
    return Event(id=uuid4().hex, kind="undo", at=now, target=event.id, device=device, stamped=now)
