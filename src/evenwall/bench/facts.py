"""What the events of a casting say about it that the plan could not know: slips, readings, the dry run.

The plan is computed anew from the job and these facts, never patched; so it equals a fresh plan with the same facts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from evenwall.bench.events import DRY_PHASES, Event, Kind, standing

QUICKEST: Final = 2.0  # nobody closes, turns or opens a mold faster [s] (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class ShotFacts:
    """What is known of one shot; None where nobody said."""

    mixed_at: float | None = None  # after the first mixing of the casting [s]
    poured_after: float | None = None  # after its own mixing [s]
    weighed: float | None = None  # A and B together, by the scale's readings [kg]
    mass: float | None = None  # what went in [kg]
    gel_cup: float | None = None  # the witness cup gelled after its own mixing [s]


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What is known of the casting; None where nobody said."""

    room: float | None = None  # [K]
    mold: float | None = None  # [K]
    close_for: float | None = None  # dry run: from poured to clamped shut [s]
    wet_for: float | None = None  # dry run: every side down once [s]
    open_for: float | None = None  # dry run: unclamped and open [s]
    shots: tuple[ShotFacts, ...] = ()


def facts_of(events: Iterable[Event], *, shots: int) -> Facts:
    """The facts that `events` hold for a casting of `shots` shots."""
    counted = standing(events)
    first = min((e.at for e in counted if e.kind == "mixed"), default=None)
    dry = dry_run(counted)
    return Facts(
        room=_last(counted, "room"),
        mold=_last(counted, "mold"),
        close_for=dry.get("closed"),
        wet_for=dry.get("turned"),
        open_for=dry.get("opened"),
        shots=tuple(_shot(counted, shot=shot, first=first) for shot in range(shots)),
    )


def attempt_of(counted: Sequence[Event], *, shot: int) -> int:
    """Which mix of `shot` is the present one: the number of its spoilt ones."""
    return len({e.attempt for e in counted if e.kind == "spoilt" and e.shot == shot})


def instant_of(counted: Sequence[Event], kind: str, *, shot: int, attempt: int) -> Event | None:
    """The first standing event of `kind` for that mix of `shot`: two devices may both have pressed."""
    found = (e for e in counted if e.kind == kind and e.shot == shot and e.attempt == attempt)
    return next(found, None)


def latest_of(counted: Sequence[Event], item: str, *, kind: Kind = "reading") -> Event | None:
    """The latest event of `kind` about `item`."""
    return next((e for e in reversed(counted) if e.kind == kind and e.item == item), None)


def dry_run(counted: Sequence[Event]) -> dict[str, float]:
    """Length [s] of each phase (closed, turned, opened) of the latest dry run, measured between its presses.

    A phase shorter than QUICKEST is a slip of the pedal and does not count.
    """
    tries = sorted({e.attempt for e in counted if e.kind == "dry"}, reverse=True)
    for attempt in tries:
        pressed = {e.item: e.at for e in reversed(counted) if e.kind == "dry" and e.attempt == attempt}
        order = [phase for phase in DRY_PHASES if phase in pressed]
        if "start" in pressed and "closed" in pressed:
            lasts = {then: pressed[then] - pressed[before] for before, then in pairwise(order)}
            return {phase: length for phase, length in lasts.items() if length >= QUICKEST}
    return {}


def _shot(counted: Sequence[Event], *, shot: int, first: float | None) -> ShotFacts:
    attempt = attempt_of(counted, shot=shot)
    mixed = instant_of(counted, "mixed", shot=shot, attempt=attempt)
    poured = instant_of(counted, "poured", shot=shot, attempt=attempt)
    gelled = instant_of(counted, "gelled", shot=shot, attempt=attempt)
    told = [e for e in counted if e.kind == "amount" and e.shot == shot and e.attempt == attempt]
    parts = [_last(counted, f"mass.{shot}.{part}") for part in ("a", "b")]
    return ShotFacts(
        weighed=None if None in parts else sum(part or 0.0 for part in parts),
        mixed_at=None if mixed is None or first is None else mixed.at - first,
        poured_after=None if mixed is None or poured is None else poured.at - mixed.at,
        mass=told[-1].value if told else None,
        gel_cup=None if mixed is None or gelled is None else gelled.at - mixed.at,
    )


def _last(counted: Sequence[Event], item: str) -> float | None:
    """The latest reading of `item`."""
    told = latest_of(counted, item)
    return None if told is None else told.value
