"""The usual cautions, each at the step where the person acts; the safety data sheet and local codes come first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Step = Literal["weigh", "mix", "brush", "close", "turn", "open", "finish", "clean"]
DAMP = 0.5  # relative humidity above which urethane may foam (common practice, no source)


@dataclass(frozen=True, kw_only=True)
class Caution:
    """What to mind at a step."""

    step: Step
    text: str


ALWAYS = (
    Caution(
        step="weigh",
        text="Read both safety data sheets; gloves, goggles, good ventilation: part A holds isocyanates, "
        "which can sensitise lungs and skin for life.",
    ),
    Caution(
        step="mix",
        text="What stays in the cup gets hot: never heap leftovers, let them set spread out and in the open.",
    ),
    Caution(
        step="brush", text="Brush under extraction or in moving air, with gloves; no bare skin on wet resin."
    ),
    Caution(
        step="close",
        text="Clamps are under tension and fly off: keep eyes and hands out of their line, hang none that can "
        "come off upside down.",
    ),
    Caution(
        step="turn",
        text="Tie back hair and sleeves, mind pinch points, goggles on: resin can jet from a seam that is upside "
        "down; the stand must not tip, and nobody stands under the mold.",
    ),
    Caution(
        step="open",
        text="Open when it is cool and the pressure is off; a fresh wall is still soft: support it while it cools.",
    ),
    Caution(step="finish", text="Sand wet or with a dust mask and extraction; urethane dust is harmful."),
    Caution(
        step="clean",
        text="Solvent for brushes: its vapour is harmful and burns; no spark, no flame, open air. Rags go into a "
        "closed metal bin.",
    ),
)


def cautions_for(*, sealed: bool, opening: str, humidity: float) -> tuple[Caution, ...]:
    """The usual cautions, and those that this mold and this day add; humidity relative, 0 to 1."""
    added = []
    if sealed:
        added.append(
            Caution(
                step="close",
                text="The resin warms the shut-in air, which pushes the mold apart: clamp for it, or leave a vent.",
            )
        )
    if opening in ("base counts", "trimmed"):
        added.append(
            Caution(step="open", text="Take the board off slowly: its skin may tear and pull a coat with it.")
        )
    if humidity > DAMP:
        added.append(
            Caution(
                step="weigh",
                text=f"The air is damp ({humidity:.0%}): moisture foams urethane; close the jugs at once, "
                "no paper cups, no wooden sticks.",
            )
        )
    return (*ALWAYS, *added)
