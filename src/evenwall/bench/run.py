"""What happens now and next: a function of the plan, the events and the clock, with no memory of its own.

The page holds the same function (web/parts/bench/run.js) so that it goes on without the server; a test holds both
to the same answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from evenwall.bench.casting import BenchPlan, Move, ShotPlan
from evenwall.bench.cues import PASSING, Cue, cues_of
from evenwall.bench.events import DRY_PHASES, Event, mended, standing
from evenwall.bench.facts import attempt_of, instant_of
from evenwall.bench.ratio import Doubt, doubts
from evenwall.bench.steps import Step, steps_of

How = Literal["pressed", "mended", "inferred", "forecast"]
WEIGHING = "weigh"  # key of the step at which a wrong ratio is asked about
PROPPING = 8.0  # from the stop until the mold is propped [s] (common practice, no source)
OPENING = 10.0  # to spare at the opening for the next coat [s]
SOONER = 60.0  # the next coat is called so long before its mixing, or longer where opening takes longer [s]
SAME = 5.0  # film and cup this close are said to gel together [s]


@dataclass(frozen=True, kw_only=True)
class Score:
    """A plan with everything that is said and done in it, in order."""

    plan: BenchPlan
    steps: tuple[Step, ...]
    cues: tuple[tuple[Cue, ...], ...]  # of each shot


@dataclass(frozen=True, kw_only=True)
class Instant:
    """When something happened or will happen."""

    name: str
    at: float  # [s since 1970]
    how: How


@dataclass(frozen=True, kw_only=True)
class Press:
    """What one press would enter now."""

    kind: Literal["mixed", "gelled", "tick", "dry"]
    shot: int | None = None
    attempt: int = 0
    item: str = ""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """The bench at one moment."""

    step: str  # key of the step to do; empty when the casting is done
    shot: int | None  # the shot that runs, None before the first
    attempt: int
    stage: str  # stage of that shot, empty before the first
    until: float | None  # instant that the stage counts down to [s since 1970]
    cue: int | None  # index of the cue that fell due last
    shown: int | None  # index of the cue that is shown: a passing call gives way to what stays
    say: str  # key of the words that are said now, empty for none
    press: Press | None  # what a press enters, None where it enters nothing
    instants: tuple[Instant, ...]  # of that shot, in order of time
    lag: float | None  # film gel minus cup gel [s], once the cup has gelled
    moves: tuple[int, ...]  # indices of the moves that go on now
    doubt: Doubt | None  # weighed out of ratio: no box is ticked till it is mended or used knowingly


def score_of(plan: BenchPlan) -> Score:
    """The whole score of `plan`."""
    last = len(plan.shots) - 1
    cues = tuple(cues_of(shot, last=place == last) for place, shot in enumerate(plan.shots))
    return Score(plan=plan, steps=steps_of(plan), cues=cues)


def moment(score: Score, events: Iterable[Event], *, at: float) -> Moment:
    """The bench at the instant `at` [s since 1970], given every event so far."""
    told = tuple(events)
    counted = standing(told)
    place = _running(score, counted)
    step = _step(score, counted)
    found = doubts(score.plan, counted) if step and step.key == WEIGHING else ()
    press = None if found else _press(score, step, counted)
    if place is None:
        return _before(step, press, counted, found[0] if found else None)
    attempt = attempt_of(counted, shot=place)
    instants = instants_of(score, told, shot=place, attempt=attempt, at=at)
    known = {i.name: i.at for i in instants}
    cue, shown, stage = _cue(score.cues[place], known, at)
    gelled = instant_of(counted, "gelled", shot=place, attempt=attempt)
    if gelled is None and at >= known["pour_from"]:
        press = Press(kind="gelled", shot=place, attempt=attempt)
    elif gelled is None or at < known["stop"]:
        press = None  # a bump while stirring or turning enters nothing
    turning = stage is not None and stage.stage in ("wet", "turn")
    lag = None if gelled is None else known["film"] - gelled.at
    return Moment(
        step=step.key if step else "",
        shot=place,
        attempt=attempt,
        stage=stage.stage if stage else "",
        until=known.get(stage.until) if stage else None,
        cue=cue,
        shown=shown,
        say="" if shown is None else _said(score.cues[place][shown].say, lag, known["stop"] - at),
        press=press,
        instants=instants,
        lag=lag,
        moves=moves_at(score.plan.shots[place].moves, at - known["closed"]) if turning else (),
        doubt=None,
    )


def _before(step: Step | None, press: Press | None, counted: Sequence[Event], doubt: Doubt | None) -> Moment:
    """The bench before the first shot runs."""
    waiting = step.shot if step and step.kind == "mix" else None
    return Moment(
        step=step.key if step else "",
        shot=None,
        attempt=0 if waiting is None else attempt_of(counted, shot=waiting),
        stage="",
        until=None,
        cue=None,
        shown=None,
        say="",
        press=press,
        instants=(),
        lag=None,
        moves=(),
        doubt=doubt,
    )


def instants_of(
    score: Score, events: Iterable[Event], *, shot: int, attempt: int, at: float
) -> tuple[Instant, ...]:
    """The instants of one mix of `shot` as known at `at`: pressed, mended, inferred or forecast, in order of time.

    Until the cup's gel is pressed the resin can only be later than forecast: a cup that has not gelled by `at`
    puts off all that follows it in proportion. Once pressed, its time over its forecast scales them.
    """
    told = tuple(events)
    counted = standing(told)
    plan = score.plan.shots[shot]
    moved = mended(told)
    pressed = {
        kind: event
        for kind in ("mixed", "poured", "closed", "gelled")
        if (event := instant_of(counted, kind, shot=shot, attempt=attempt))
    }
    mixed = pressed["mixed"].at
    gelled = pressed["gelled"].at if "gelled" in pressed else None
    pace = (gelled - mixed) / plan.gel_cup if gelled is not None else max(1.0, (at - mixed) / plan.gel_cup)
    after = {kind: event.at for kind, event in pressed.items()}
    inferred = _inferred(plan, mixed, after)
    following = score.plan.shots[shot + 1] if shot + 1 < len(score.plan.shots) else None
    forecast = _forecast(score.plan, plan, following, mixed, pace)
    if gelled is None:
        forecast |= {"cup": mixed + plan.gel_cup * pace, "expected": mixed + plan.gel_cup}
    if "poured" not in after and plan.kind != "brush":
        forecast["not_poured"] = forecast["pour_by"]
    found = [
        Instant(name=n, at=e.at, how="mended" if e.id in moved else "pressed") for n, e in pressed.items()
    ]
    found += [Instant(name=n, at=t, how="inferred") for n, t in inferred.items() if n not in after]
    found += [Instant(name=n, at=t, how="forecast") for n, t in forecast.items()]
    return tuple(sorted(found, key=lambda i: (i.at, i.name)))


def moves_at(moves: Sequence[Move], since: float) -> tuple[int, ...]:
    """Indices of the moves going on `since` seconds after closing; the pattern begins again at its end."""
    if not moves or since < 0:
        return ()
    since %= max(move.starts + move.lasts for move in moves)
    return tuple(n for n, move in enumerate(moves) if move.starts <= since < move.starts + move.lasts)


def _inferred(plan: ShotPlan, mixed: float, after: Mapping[str, float]) -> dict[str, float]:
    """When hands are taken to have done what nobody pressed."""
    poured = after.get("poured", mixed + plan.pour_at + plan.pour_for)
    closed = after.get("closed", poured + plan.close_for)
    return {"poured": poured, "closed": closed, "wetted": closed + plan.wet_for}


def _forecast(
    whole: BenchPlan, plan: ShotPlan, following: ShotPlan | None, mixed: float, pace: float
) -> dict[str, float]:
    """What the resin is expected to do, `pace` times as slowly as planned, and what hands must do by then."""
    stop = mixed + plan.turn_until * pace
    times = {
        "pour_from": mixed + plan.pour_at,
        "pour_by": mixed + plan.pour_within,
        "close_by": mixed + plan.closed_within,
        "film": mixed + plan.gel_film * pace,
        "stop": stop,
        "sure": mixed + plan.gel_film_late * pace,
    }
    if following is None:
        return times | {"open": mixed + whole.open_after * pace}
    opened = PROPPING + OPENING + whole.open_for  # no mold is opened while it turns
    mix_from = max(mixed + plan.next_from * pace - following.pour_at, stop + opened)
    return times | {
        "open_up": max(mix_from - max(SOONER, OPENING + whole.open_for), stop + PROPPING),
        "mix_from": mix_from,
        "mix_to": max(mixed + plan.next_to * pace - following.pour_at, mix_from),
    }


def _cue(
    cues: Sequence[Cue], known: Mapping[str, float], at: float
) -> tuple[int | None, int | None, Cue | None]:
    """Index of the cue that fell due last, of the one that is shown, and the cue whose stage it is."""
    due = [(known[c.after] + c.wait, n) for n, c in enumerate(cues) if c.after in known]
    past = sorted(pair for pair in due if pair[0] <= at)
    holds = [n for then, n in past if cues[n].stage or cues[n].stays or at - then < PASSING]
    staged = [n for _, n in past if cues[n].stage]
    return (
        past[-1][1] if past else None,
        holds[-1] if holds else None,
        cues[staged[-1]] if staged else None,
    )


def _said(key: str, lag: float | None, left: float) -> str:
    """The key of a cue's words; the cup's gel is said together with how far the film is behind or ahead of it.

    left: turning still to do [s].
    """
    if key != "gelled" or lag is None:
        return key
    if lag < -SAME:
        return "ahead" if left < SAME else "ahead_sure"
    return "together" if lag < SAME else "behind"


def _running(score: Score, counted: Sequence[Event]) -> int | None:
    """The shot whose mixing started last and that was not spoilt."""
    begun = [
        place
        for place in range(len(score.plan.shots))
        if instant_of(counted, "mixed", shot=place, attempt=attempt_of(counted, shot=place))
    ]
    return begun[-1] if begun else None


def _step(score: Score, counted: Sequence[Event]) -> Step | None:
    """The first step that isn't done, after the last mixing that began; None when all is done."""
    mixed = {e.shot for e in counted if e.kind == "mixed"}
    begun = [n for n, step in enumerate(score.steps) if step.kind == "mix" and step.shot in mixed]
    ahead = score.steps[begun[-1] if begun else 0 :]
    return next((step for step in ahead if not _done(score, step, counted)), None)


def _done(score: Score, step: Step, counted: Sequence[Event]) -> bool:
    ticked = {e.item for e in counted if e.kind == "tick"}
    if step.key in ticked:
        return True
    if step.kind == "mix":
        assert step.shot is not None
        attempt = attempt_of(counted, shot=step.shot)
        return instant_of(counted, "mixed", shot=step.shot, attempt=attempt) is not None
    if step.kind == "dry":
        return _dry_phase(counted)[1] is None
    boxes = all(item.key in ticked for item in step.items)
    return boxes and not (step.key == WEIGHING and doubts(score.plan, counted))


def _dry_phase(counted: Sequence[Event]) -> tuple[int, str | None]:
    """The latest dry run and the phase of it that is pressed next, None when it had them all."""
    attempt = max((e.attempt for e in counted if e.kind == "dry"), default=0)
    had = {e.item for e in counted if e.kind == "dry" and e.attempt == attempt}
    return attempt, next((phase for phase in DRY_PHASES if phase not in had), None)


def _press(score: Score, step: Step | None, counted: Sequence[Event]) -> Press | None:
    """What a press enters at `step` when no cup is waited for."""
    if step is None:
        return None
    if step.kind == "mix":
        assert step.shot is not None
        return Press(kind="mixed", shot=step.shot, attempt=attempt_of(counted, shot=step.shot))
    if step.kind == "dry":
        attempt, phase = _dry_phase(counted)
        return Press(kind="dry", attempt=attempt, item=phase or "")
    ticked = {e.item for e in counted if e.kind == "tick"}
    box = next(item.key for item in step.items if item.key not in ticked)
    return Press(kind="tick", item=box, shot=step.shot)
