"""What nobody has said yet, and by how much it would change the answer: only that is worth asking."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenwall.errors import EvenwallError
from evenwall.files.job_schema import JobFile
from evenwall.files.open_job import job_from
from evenwall.plan.course import Draft, draft
from evenwall.web import rooms
from evenwall.web.amounts import span
from evenwall.web.desk import edited, value_at

MATTERS: Final = 0.05  # an answer that moves by less is not worth a question []
REFUSED: Final = 2.0  # weight of an answer that may end the plan []
MOST: Final = 5  # questions at once


@dataclass(frozen=True, kw_only=True)
class Guess:
    """A value that evenwall assumes, and how far shops usually are from it (common practice, no source)."""

    key: str
    name: str  # in a sentence
    view: str  # where it is asked
    less: float  # in the key's unit
    more: float
    instead: str = ""  # the key whose value stands in where this one is not given


GUESSES: Final = (
    Guess(key="shop.air_C", name="the air", view="resin", less=-4.0, more=4.0),
    Guess(
        key="shop.resin_C",
        name="the resin in the jugs",
        view="resin",
        less=-4.0,
        more=4.0,
        instead="shop.air_C",
    ),
    Guess(key="shop.mold_C", name="the mold", view="resin", less=-4.0, more=4.0, instead="shop.air_C"),
    Guess(key="shop.stir_s", name="stirring one shot", view="coats", less=-15.0, more=30.0),
    Guess(key="shop.pour_s", name="pouring it", view="coats", less=-10.0, more=20.0),
    Guess(key="shop.close_s", name="closing the mold", view="coats", less=-15.0, more=45.0),
    Guess(key="shop.scale_step_g", name="the scale's steps", view="coats", less=-0.09, more=0.9),
    Guess(key="mold.rubber_mm", name="the rubber round the piece", view="machine", less=-6.0, more=20.0),
)


@dataclass(frozen=True, kw_only=True)
class Unsaid:
    """A value that was not given, and what it does."""

    guess: Guess
    moves: float  # largest relative change of an answer []
    sentence: str


def unsaid(folder: Path, file: JobFile, amount: Callable[[float, str], str]) -> list[Unsaid]:
    """What is worth saying about the job, the weightiest first; takes a fraction of a second.

    `amount(value, unit)` writes an SI value in the user's units.
    """
    job, hollow, made = rooms.job_now(folder, file), rooms.cavity(folder, file), rooms.draft_now(folder, file)
    if job is None or hollow is None or made is None:
        return []
    usual = _answers(made)
    found = []
    for guess in GUESSES:
        value, said = value_at(file, guess.key)
        if value is None and guess.instead:
            value = value_at(file, guess.instead)[0]
        if said or value is None:
            continue
        ends = [edited(file, {guess.key: value + by}) for by in (guess.less, guess.more)]
        try:
            jobs = [job_from(end, job.resin, job.piece, middle=job.crossing) for end in ends]
            low, high = (_answers(draft(one, hollow)) for one in jobs)
        except EvenwallError as error:
            found.append(Unsaid(guess=guess, moves=REFUSED, sentence=f"it may end the plan ({error})"))
            continue
        if (sentence := _sentence(usual, low, high, amount)) is not None:
            found.append(Unsaid(guess=guess, moves=sentence[0], sentence=sentence[1]))
    return sorted(found, key=lambda one: -one.moves)[:MOST]


Answers = dict[str, tuple[float, str]]  # what is answered -> value in SI and its unit ("" for a time)


def _answers(made: Draft) -> Answers:
    first = made.clock.coats[0]
    return {
        "weigh": (sum(shot.mass for shot in made.weigh_out.shots), "g"),
        "pour within": (first.budget.pour_within, ""),
        "time to spare": (first.budget.spare, ""),
        "film gels after": (first.minutes.gel_film, ""),
        "next coat after": (first.minutes.next_from, ""),
    }


def _sentence(
    usual: Answers, low: Answers, high: Answers, amount: Callable[[float, str], str]
) -> tuple[float, str] | None:
    """How much it moves the answers, and in words; None where that is too little to ask."""
    moved: list[tuple[float, str]] = []
    for name, (value, unit) in usual.items():
        a, b = sorted((low[name][0], high[name][0]))
        share = (b - a) / max(abs(value), 1.0 if not unit else 1e-3)
        if share > MATTERS and (unit or round(a) != round(b)):
            low_end, high_end = max(a, 0.0), max(b, 0.0)
            reach = (
                f"{amount(low_end, unit)} to {amount(high_end, unit)}" if unit else span(low_end, high_end)
            )
            moved.append((share, f"{name} {reach}"))
    if not moved:
        return None
    best = sorted(moved, key=lambda one: -one[0])[:2]
    return best[0][0], "; ".join(words for _, words in best)
