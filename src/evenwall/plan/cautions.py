"""The usual cautions, each at the step where the person acts; the safety data sheet and local codes come first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from evenwall.plan.clock import DAY, Clock, Conditions
from evenwall.resin.checks import TIRESOME, UNREALISTIC
from evenwall.resin.data import Resin, needed

Step = Literal["weigh", "mix", "brush", "close", "turn", "open", "finish", "clean"]
THIN_WALL: Final = 4e-3  # a wall under this warps if it is opened warm [m], assumed
WARM_MOLD: Final = 3.0  # the mold is called warm from so many kelvin over its start


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


def cautions_for(*, sealed: bool, opening: str, push: float) -> tuple[Caution, ...]:
    """The usual cautions, and those that this mold adds; `push` [N] is what its shut-in air exerts at most."""
    added = []
    if sealed:
        added.append(
            Caution(
                step="close",
                text="The resin warms the shut-in air, which pushes the mold apart"
                + (f" with up to {push:.0f} N" if push >= 1.0 else "")
                + ": clamp for it, or leave a vent; eyes away from the seam.",
            )
        )
    if opening in ("base counts", "trimmed"):
        added.append(
            Caution(step="open", text="Take the board off slowly: its skin may tear and pull a coat with it.")
        )
    return (*ALWAYS, *added)


def cautions_today(resin: Resin, today: Conditions, clock: Clock, *, wall: float) -> tuple[Caution, ...]:
    """What this resin, this day's warmth and damp, and these coats add; `wall` [m] is that of all coats."""
    return (
        *_at_the_scale(resin, today),
        *_at_the_mold(resin, today, clock),
        *_at_the_frame(clock),
        *_at_the_opening(wall),
    )


def _at_the_scale(resin: Resin, today: Conditions) -> Iterator[Caution]:
    sheet = resin.sheet
    coldest = needed(sheet.storage_temperature, "storage temperature").number
    if today.resin < coldest:
        yield Caution(
            step="weigh",
            text=f"The jugs are at {today.resin - 273.15:.0f} C, under {coldest - 273.15:.0f} C: thicker, slower and "
            "full of air; let them warm up in the shop first.",
        )
    driest = needed(sheet.humidity_limit, "humidity limit").number
    if today.humidity > driest:
        yield Caution(
            step="weigh",
            text=f"The air is at {today.humidity:.0%} humidity, over {driest:.0%}: isocyanate foams with water; "
            "close the jugs at once, no paper cups, no wooden sticks.",
        )
    elif sheet.moisture_note:
        yield Caution(step="weigh", text=sheet.moisture_note)
    yield from (Caution(step="weigh", text=hazard) for hazard in sheet.hazards)
    kept = needed(sheet.shelf_life_opened, "shelf life").number
    yield Caution(
        step="weigh",
        text=f"Opened jugs keep about {kept / DAY:.0f} days: write the day on them; with older ones time a cup first.",
    )


def _at_the_mold(resin: Resin, today: Conditions, clock: Clock) -> Iterator[Caution]:
    peak = max(coat.minutes.cup_peak for coat in (*clock.before, *clock.coats))
    if peak > resin.heat_limit:
        yield Caution(
            step="mix",
            text=f"A mix left in its cup may reach {peak - 273.15:.0f} C, over the {resin.heat_limit - 273.15:.0f} C "
            "that it stands: pour it out thin if it can't go into the mold.",
        )
    warm = [coat for coat in clock.coats if coat.wall_temperature > today.mold + WARM_MOLD]
    if warm:
        said = " and ".join(f"{coat.name} ({coat.wall_temperature - 273.15:.0f} C)" for coat in warm)
        yield Caution(
            step="mix",
            text=f"The mold is warm from the coats before at {said}: there is less time to pour and close.",
        )
    for earlier, later in pairwise(clock.coats):
        if later.mixed_at + later.budget.poured > earlier.mixed_at + earlier.minutes.next_to:
            yield Caution(
                step="mix",
                text=f"{later.name} comes too late to bond well: roughen the coat before, or wait less.",
            )


def _at_the_frame(clock: Clock) -> Iterator[Caution]:
    slowest = max(clock.coats, key=lambda coat: coat.minutes.working)
    working = slowest.minutes.working
    if working > TIRESOME:
        yield Caution(
            step="turn",
            text=f"{slowest.name} stays workable for {working / 60:.0f} min and its film runs for "
            f"{slowest.minutes.gel_film / 60:.0f}: "
            + ("unrealistic" if working > UNREALISTIC else "tiresome")
            + " to turn by hand; warm the shop, the jugs and the mold, or take a faster resin.",
        )


def _at_the_opening(wall: float) -> Iterator[Caution]:
    if wall < THIN_WALL:
        yield Caution(
            step="open",
            text=f"A wall of {1e3 * wall:.1f} mm warps if it is opened early: later rather than sooner, and let it "
            "cool in its mold or bedded all round in dry sand or foam.",
        )
