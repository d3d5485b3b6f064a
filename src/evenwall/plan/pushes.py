"""How the hands push both axes: the candidates, and the one whose film comes out most even."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

CLEAR_GAIN: Final[float] = 0.9  # a less usual pattern is taken only where it cuts the unevenness to this
ENDLESS: Final[float] = 1000.0  # pushed one way all the time [turns]


@dataclass(frozen=True, kw_only=True)
class Pushes:
    """One way for the hands to push both axes."""

    frame_turns: tuple[float, float]  # forth and back [turns]
    cradle_turns: tuple[float, float]  # forth and back [turns]


# None of these retraces itself. Pushes are long: the film evens out by passing all directions over and over,
# and a push back takes it the way it came. The first is the usual one
PUSHES: Final[tuple[Pushes, ...]] = (
    Pushes(frame_turns=(8.25, 7.0), cradle_turns=(9.75, 8.5)),
    Pushes(frame_turns=(12.25, 10.5), cradle_turns=(15.75, 13.5)),
    Pushes(frame_turns=(4.25, 3.5), cradle_turns=(5.75, 4.5)),
    Pushes(frame_turns=(ENDLESS, ENDLESS), cradle_turns=(ENDLESS, ENDLESS)),
)


def candidates(ratio: float | None) -> tuple[Pushes, ...]:
    """Ways of pushing, the usual one first."""
    if ratio is None:
        return PUSHES
    # geared axes need long pushes to come past everything
    return (
        *PUSHES,
        Pushes(frame_turns=(4.25, 3.75), cradle_turns=(1.0, 1.0)),
        Pushes(frame_turns=(8.5, 7.25), cradle_turns=(1.0, 1.0)),
    )


def pushed(
    pushes: Pushes, *, duration: float, frame_rate: float, cradle_rate: float, ratio: float | None = None
) -> Motion:
    """The hands' motion from the closing on, at rest after `duration` [s]."""
    motion = patterns.hand(
        frame_rate=frame_rate,
        cradle_rate=cradle_rate,
        duration=duration,
        frame_turns=pushes.frame_turns,
        cradle_turns=pushes.cradle_turns,
    )
    return motion if ratio is None else patterns.geared(motion, ratio=ratio)


def choice(options: Sequence[Pushes], scores: Sequence[float]) -> tuple[int, str]:
    """The place of the best of some `options` by the unevenness of their film, and why in one sentence.

    The first, usual one stays unless another cuts the unevenness to CLEAR_GAIN of its own.
    """
    best = int(np.argmin(scores))
    chosen = best if scores[best] < CLEAR_GAIN * scores[0] else 0
    others = ", ".join(
        f"{100.0 * score:.0f} % for {in_words(one)}"
        for k, (one, score) in enumerate(zip(options, scores, strict=True))
        if k != chosen
    )
    return chosen, (
        f"pushing {in_words(options[chosen])} leaves a film that varies by {100.0 * scores[chosen]:.0f} % on a"
        f" quick forecast, against {others}"
    )


def in_words(pushes: Pushes) -> str:
    """How the hands push, e.g. "the frame 8 1/4 turns forth and 7 back, the cradle 9 3/4 and 8 1/2"."""
    if pushes.frame_turns[0] >= ENDLESS:
        return "both always one way"
    forth, back = (_quarters(turns) for turns in pushes.frame_turns)
    there, home = (_quarters(turns) for turns in pushes.cradle_turns)
    return f"the frame {forth} turns forth and {back} back, the cradle {there} and {home}"


def turns_in_words(pair: tuple[float, float]) -> str:
    """The length of a push forth and back [turns]."""
    if pair[0] >= ENDLESS:
        return "always the same way"
    return f"{_quarters(pair[0])} turns forth and {_quarters(pair[1])} back"


def _quarters(turns: float) -> str:
    whole, part = divmod(turns, 1.0)
    return f"{int(whole)}{ {0.0: '', 0.25: ' 1/4', 0.5: ' 1/2', 0.75: ' 3/4'}[part] }"
