"""First page of the worksheet, as texts: what to weigh into which cup, when to do what, how to turn."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from evenwall.job import Job, Plan, PlannedShot
from evenwall.plan.clock import CoatClock
from evenwall.plan.sureness import CoatBands, lag_short, stop_with_cup_sentence
from evenwall.plan.weighout import ShotAmounts, fill_lines, volume_error
from evenwall.reports.summary import (
    WITNESSES,
    before_line,
    capital,
    clock_time,
    coarse,
    length,
    minutes,
    pose_words,
    temperature,
    volume,
)
from evenwall.reports.turning_words import turning_told
from evenwall.resin.data import needed
from evenwall.units import from_si


@dataclass(frozen=True, kw_only=True)
class Scale:
    """How finely a scale is read, so that the paper asks for no more and no less."""

    step: float  # [kg]
    us: bool

    def mass(self, value: float) -> str:
        """A mass [kg] to the scale's step, in the unit of the user's choice."""
        unit = "oz" if self.us else "g"
        step = from_si(self.step, unit)
        digits = max(0, math.ceil(-math.log10(step) - 1e-9))
        return f"{from_si(value, unit):.{digits}f} {unit}"

    def also(self, value: float) -> str:
        """The same in grams where the sheet speaks ounces, as most small scales show both."""
        return Scale(step=self.step, us=False).mass(value) if self.us else ""


def plan_page(job: Job, plan: Plan, *, us: bool) -> dict[str, Any]:
    """What the template's first page shows."""
    scale = Scale(step=job.shop.scale_step, us=us)
    return {
        "name": job.name,
        "facts": _facts(job, us),
        "batch": _batch(plan, scale),
        "tinted": plan.weigh_out.batch_b > 0.0,
        "cups": [_cup(shot, scale, job, us) for shot in plan.weigh_out.shots],
        "filled": plan.weigh_out.filler > 0.0,
        "lines_of": _lines_of(job, plan, us),
        "times": [_times(shot, bands) for shot, bands in zip(plan.shots, plan.sure.coats, strict=True)],
        "watch": _watch(job, plan),
        "before": _before(job, plan),
        "open_after": clock_time(plan.open_after),
        "open_band": f"{clock_time(plan.sure.open_after.low)} to {clock_time(plan.sure.open_after.high)}",
        "weighing": [f"{capital(note)}." for note in plan.weigh_out.notes],
        "stages": [
            {
                "name": one.name,
                "time": f"{clock_time(one.start)} – {clock_time(one.stop)}",
                "words": one.words,
            }
            for one in turning_told(job, plan)
        ],
        "cautions": by_step((c.step, c.text) for c in plan.cautions),
    }


def by_step(cautions: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Cautions of each step."""
    found: dict[str, list[str]] = {}
    for step, text in cautions:
        found.setdefault(step, []).append(text)
    return found


def _facts(job: Job, us: bool) -> list[list[str]]:
    shop = job.shop
    return [
        ["resin", job.resin.name],
        ["wanted wall", f"{length(job.wish.usual, us=us)}, nowhere under {length(job.wish.least, us=us)}"],
        [
            "planned for",
            f"air {temperature(shop.air, us=us)}, jugs {temperature(shop.resin, us=us)}, "
            f"mold {temperature(shop.mold, us=us)}",
        ],
    ]


def _batch(plan: Plan, scale: Scale) -> str:
    weighed = plan.weigh_out
    if weighed.batch_b <= 0.0:
        return ""
    b = scale.mass(weighed.batch_b)
    fine = Scale(step=0.1 * scale.step, us=scale.us)
    pigment, also = fine.mass(weighed.batch_pigment), fine.also(weighed.batch_pigment)
    grams = f" ({scale.also(weighed.batch_b)} and {also})" if also else ""
    return f"Tint part B first, in one batch for all coats that show: {b} of part B with {pigment} of pigment{grams}."


def _cup(shot: ShotAmounts, scale: Scale, job: Job, us: bool) -> dict[str, Any]:
    both = shot.a_volume + shot.b_volume
    lines = _marks(shot, job)
    return {
        "filler": scale.mass(shot.filler) if shot.filler > 0.0 else "",
        "name": shot.name,
        "a": scale.mass(shot.a),
        "a_also": scale.also(shot.a),
        "b": scale.mass(shot.b_weighed),
        "b_also": scale.also(shot.b_weighed),
        "tinted": shot.pigment > 0.0,
        "mass": scale.mass(shot.mass),
        "stays": scale.mass(shot.stays),
        "cup": volume(shot.cup, us=us),
        "line_a": coarse(lines[0], us=us) if lines else volume(shot.a_volume, us=us),
        "line_b": coarse(lines[1], us=us) if lines else volume(both, us=us),
        "fill_a": shot.a_volume / shot.cup,
        "fill_b": both / shot.cup,
    }


def _marks(shot: ShotAmounts, job: Job) -> tuple[float, float] | None:
    """Fill lines over the bottom of the shop's volume cup [m]; None without such a cup, or where it is too small."""
    cup = job.shop.volume_cup
    if cup is None or shot.a_volume + shot.b_volume > cup.volume:
        return None
    return fill_lines(cup, shot)


def _lines_of(job: Job, plan: Plan, us: bool) -> str:
    """What the fill lines are good for."""
    cup = job.shop.volume_cup
    if cup is None:
        return "By volume only in cups with true marks; the scale is better."
    coats = [shot for shot in plan.weigh_out.shots if shot.kind == "coat" and _marks(shot, job)]
    if not coats:
        return "No shot goes into the volume cup: weigh."
    worst = max(volume_error(cup, shot) for shot in coats)
    allowed = needed(job.resin.sheet.ratio_tolerance, "ratio tolerance").number
    tall = coarse(cup.height, us=us)
    said = (
        f"Lines are over the bottom of the cup that is {tall} tall; met to half a millimetre the ratio is off"
    )
    if worst <= allowed:
        return f"{said} by {worst:.0%} at most, which this resin stands."
    return f"{said} by up to {worst:.0%}, over the {allowed:.0%} that this resin stands: weigh, or mix larger shots."


def _watch(job: Job, plan: Plan) -> str:
    """Which cup is watched, and what happens if one stops with it."""
    stop = stop_with_cup_sentence(plan.shots[0].clock.minutes)
    return f"The cup is {WITNESSES[job.shop.witness.kind]}. Coat 1: {stop}."


def _times(shot: PlannedShot, bands: CoatBands) -> dict[str, str]:
    when, budget = shot.clock.minutes, shot.clock.budget
    return {
        "name": shot.name,
        "mix": minutes(shot.clock.mixed_at),
        "pour": clock_time(budget.pour_within),
        "close": clock_time(budget.closed_within),
        "turn": clock_time(shot.turn_until),
        "gel": clock_time(when.gel_film),
        "cup": clock_time(when.gel_witness),
        "then": lag_short(bands.film_lag),
        "next": f"{clock_time(when.next_from)} – {clock_time(when.next_to)}",
    }


def _before(job: Job, plan: Plan) -> str:
    """What goes on the wall before the first coat."""
    kinds = {shot.kind for shot in plan.weigh_out.shots}
    said = []
    if "cleaning" in kinds:
        said.append(
            "The cleaning shot comes first: turn it as the coats, then cut it open and measure it; it is not kept."
        )
    said += [_told(one) for one in plan.before if one.name != "brush coat"]
    if "brush" in kinds:
        said.append("Brush the narrow places before coat 1, and pour while the brushed resin is tacky.")
    said += [_told(one) for one in plan.before if one.name == "brush coat"]
    if plan.pose is not None:
        said.append(f"{capital(pose_words(job, plan.pose))}.")
    return " ".join(said)


def _told(one: CoatClock) -> str:
    return f"{capital(' '.join(before_line(one).split()))}."
