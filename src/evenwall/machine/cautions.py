"""Cautions of the machine, each at the step where the person acts. They defer to local codes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Step = Literal["seat", "close", "balance", "turn", "open"]


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One caution at one step."""

    step: Step
    hazard: str
    words: str


ALWAYS: Final[tuple[Caution, ...]] = (
    Caution(
        step="seat", hazard="falling mold",
        words="Lift the mold in with the frame pinned so that it can't turn; two people over 15 kg.",
    ),
    Caution(
        step="close", hazard="flying clamps",
        words="Safety glasses on; tighten clamps evenly and tie each to the cradle.",
    ),
    Caution(
        step="balance", hazard="falling weights",
        words="Bolt or strap every weight; one held by its own weight falls off upside down.",
    ),
    Caution(
        step="balance", hazard="sudden swing",
        words="Stand beside the frame, not over it, and let go with the other hand on the rim.",
    ),
    Caution(
        step="turn", hazard="pinch points",
        words="Hands only at the rim or the handle, never between cradle and frame; keep others away.",
    ),
    Caution(
        step="turn", hazard="hair and sleeves",
        words="Hair tied back, sleeves close, no gloves with loose cuffs, no lanyard.",
    ),
    Caution(
        step="turn", hazard="eyes",
        words="Safety glasses on: resin can jet from a seam that comes to lie below.",
    ),
    Caution(
        step="turn", hazard="tipping stand",
        words="Screw or weigh the stand down, and stop if a foot lifts.",
    ),
    Caution(
        step="open", hazard="pressure and heat",
        words="Pin the frame; loosen clamps bit by bit, face away: warm air presses on the board.",
    ),
)  # fmt: skip
LICENSED: Final[Caution] = Caution(
    step="seat",
    hazard="people under the load",
    words="A load this heavy or high can fall on someone: have frame and stand checked by someone licensed.",
)
HEAVY: Final[float] = 25.0  # turning mass from which that is said [kg], assumed
HIGH: Final[float] = 1.3  # axle height from which that is said [m], assumed


def cautions(*, turning_mass: float, axle_height: float) -> tuple[Caution, ...]:
    """The cautions for a machine of this turning mass [kg] and axle height [m]."""
    extra = (LICENSED,) if turning_mass >= HEAVY or axle_height >= HIGH else ()
    return (*extra, *ALWAYS)
