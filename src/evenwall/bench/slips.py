"""What a slip means and what can still be saved: notes by the key of their words, with their numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evenwall.bench.casting import Note, ShotPlan
from evenwall.bench.facts import ShotFacts

MUCH: Final = 0.25  # so much more than planned may set as a lump, relative (common practice, no source)
LITTLE: Final = (
    0.15  # so much less makes a coat that is felt to be thin, relative (common practice, no source)
)
OTHER_PACE: Final = 0.1  # a cup this much off its forecast is worth a word, relative
OTHER_ROOM: Final = 1.0  # a room this much off the plan's is worth a word [K]


def slips_of(place: int, plan: ShotPlan, fact: ShotFacts, *, forecast_cup: float) -> Iterator[Note]:
    """The notes of the shot at `place`; forecast_cup: its witness cup's gel had nobody seen it [s]."""
    if plan.kind != "brush":
        yield from _pouring(place, plan, fact)
    if fact.mass is not None:
        yield from _amount(place, plan, fact.mass)
    if fact.gel_cup is not None:
        change = fact.gel_cup / forecast_cup - 1.0
        if abs(change) > OTHER_PACE:
            said = "cup_was_late" if change > 0 else "cup_was_early"
            yield Note(say=said, shot=place, numbers={"shot": place, "off_s": fact.gel_cup - forecast_cup})


def room_notes(planned: float, now: float) -> Iterator[Note]:
    """A note where the room is not as planned [K]."""
    if abs(now - planned) > OTHER_ROOM:
        said = "warmer" if now > planned else "colder"
        yield Note(say=said, numbers={"now_K": now, "planned_K": planned})


def _pouring(place: int, plan: ShotPlan, fact: ShotFacts) -> Iterator[Note]:
    poured = fact.poured_after
    if poured is None:
        if plan.pour_within < plan.pour_at:
            early = plan.pour_at - plan.pour_within
            yield Note(say="thick_early", shot=place, numbers={"shot": place, "early_s": early})
    elif poured > plan.pour_last + plan.pour_for:
        late = poured - plan.pour_last
        yield Note(say="poured_too_late", shot=place, numbers={"shot": place, "late_s": late})
    elif poured > plan.pour_within + plan.pour_for:
        late = poured - plan.pour_within - plan.pour_for
        yield Note(say="poured_late", shot=place, numbers={"shot": place, "late_s": late})


def _amount(place: int, plan: ShotPlan, poured: float) -> Iterator[Note]:
    planned = plan.mass - plan.stays
    change = poured / planned - 1.0
    if change > MUCH:
        yield Note(say="too_much", shot=place, numbers={"shot": place, "more_share": change})
    elif change < -LITTLE:
        missing = (planned - poured) / plan.mass
        numbers = {
            "shot": place,
            "less_share": -change,
            "a_kg": missing * plan.mass_a,
            "b_kg": missing * (plan.mass_b + plan.mass_pigment),
        }
        yield Note(say="too_little", shot=place, numbers=numbers)
