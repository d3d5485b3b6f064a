"""What is said when while one shot runs: a list of cues, each so long after one of the shot's instants.

Cues are plain data, so the page can follow them without the server. The instants they hang on are in `instants`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from evenwall.bench.casting import ShotPlan

SOON = 10.0  # a deadline is called this long before [s]
SETTLED = 3.0  # after the stop the mold is propped [s]
PROP_SHOWN = 20.0  # how to prop the mold is shown this long [s]
REMIND = 30.0  # an overdue cup is asked for this often [s]
PASSING = 8.0  # a passing call is shown this long [s]
REMINDERS = 40  # and at most so many times


@dataclass(frozen=True, kw_only=True)
class Cue:
    """Something to say, and the stage that begins with it."""

    after: str  # instant of the shot that it hangs on; a cue whose instant isn't known is not said
    wait: float = 0.0  # so long after that instant [s], negative: before
    say: str  # key of the words
    stage: str = ""  # stage that begins here; empty: no new stage
    until: str = ""  # instant that this stage counts down to
    tone: str = ""  # key of the tone; empty: none
    stays: bool = False  # shown until the next cue; else, without a stage, only for PASSING seconds
    numbers: Mapping[str, float | str] = field(default_factory=dict)


def cues_of(shot: ShotPlan, *, last: bool) -> tuple[Cue, ...]:
    """The cues of `shot`; `last` when no shot follows it."""
    prop: dict[str, float | str] = {
        "frame_rad": shot.pose.frame_angle,
        "cradle_rad": shot.pose.cradle_angle,
    }
    working = _brushing(shot, prop) if shot.kind == "brush" else _pouring(shot)
    stop: tuple[Cue, ...] = (
        Cue(after="stop", say="stop", stage="prop", tone="stop", until="mix_from" if not last else "open"),
        Cue(after="stop", wait=SETTLED, say="prop", numbers=prop, stays=True),
    )
    if shot.kind == "brush":
        stop = (Cue(after="stop", say="brush_stands", stage="prop", tone="stop", until="mix_from"),)
    return (*working, *_cup(shot), *stop, *(_opening() if last else _next_coat(shot)))


def _pouring(shot: ShotPlan) -> tuple[Cue, ...]:
    return (
        Cue(after="mixed", say="stir", stage="stir", until="pour_from", tone="go"),
        Cue(after="mixed", wait=shot.stir_for / 2, say="second_cup", tone="tick"),
        Cue(after="pour_from", wait=-SOON, say="pour_soon", tone="tick"),
        Cue(after="pour_from", say="pour", stage="pour", until="pour_by", tone="go"),
        Cue(after="poured", say="close", stage="close", until="close_by", tone="go"),
        Cue(after="not_poured", say="too_late", tone="late"),
        Cue(after="closed", say="wet", stage="wet", until="wetted", tone="go"),
        Cue(after="closed", wait=4.0, say="eyes"),
        Cue(after="wetted", say="turn", stage="turn", until="stop", tone="go"),
    )


def _brushing(shot: ShotPlan, pose: dict[str, float | str]) -> tuple[Cue, ...]:
    return (
        Cue(after="mixed", say="stir", stage="stir", until="pour_from", tone="go"),
        Cue(after="pour_from", say="brush", stage="brush", until="pour_by", tone="go"),
        Cue(after="pour_by", wait=-SOON, say="brush_soon", tone="tick"),
        Cue(after="pour_by", say="wipe", stage="wipe", until="close_by", tone="go"),
        Cue(
            after="close_by",
            say="prop_brushed" if shot.pose.up else "prop_brushed_by_angles",
            stage="stand",
            until="stop",
            tone="go",
            numbers=pose | ({"up": shot.pose.up} if shot.pose.up else {}),
        ),
    )


def _cup(shot: ShotPlan) -> tuple[Cue, ...]:
    """The witness cup: asked for when it is due and, while nobody has pressed, again and again."""
    late_words = "brush_cup_late" if shot.kind == "brush" else "cup_late"
    gelled = "brush_gelled" if shot.kind == "brush" else "gelled"
    watch = Cue(
        after="expected", wait=-min(20.0, shot.gel_cup / 10), say="watch_cup", tone="tick", stays=True
    )
    late = tuple(
        Cue(
            after="expected", wait=REMIND * count, say=late_words, tone="ask" if count % 2 else "", stays=True
        )
        for count in range(1, REMINDERS + 1)
    )
    return (watch, *late, Cue(after="gelled", say=gelled, tone="done", stays=True))


def _next_coat(shot: ShotPlan) -> tuple[Cue, ...]:
    soon = "mount_soon" if shot.kind == "brush" else "next_soon"
    return (
        Cue(after="stop", wait=PROP_SHOWN, say="rest", stage="rest", until="mix_from"),
        Cue(after="open_up", say=soon, tone="tick", stays=True),
        Cue(after="mix_from", say="next_coat", stage="ready", until="mix_to", tone="go"),
        Cue(after="mix_to", wait=-60.0, say="next_last", tone="ask"),
        Cue(after="mix_to", say="next_over", stage="over", tone="late"),
    )


def _opening() -> tuple[Cue, ...]:
    return (
        Cue(after="stop", wait=PROP_SHOWN, say="rest_last", stage="rest", until="open"),
        Cue(after="open", say="open", stage="open", tone="go"),
    )
