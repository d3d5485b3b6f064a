"""First page of the worksheet, as texts: what to weigh into which cup, when to do what, how to turn."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from evenwall.job import Job, Plan, PlannedShot
from evenwall.plan.weighout import ShotAmounts
from evenwall.reports.summary import length, minutes, temperature, volume
from evenwall.units import from_si

STAGES = {"hold": "get ready", "wet": "wet it", "even": "keep even", "rest": "rest"}


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
        "cups": [_cup(shot, scale, us) for shot in plan.weigh_out.shots],
        "times": [_times(shot) for shot in plan.shots],
        "before": _before(plan),
        "open_after": clock_time(plan.open_after),
        "stages": _stages(job, plan),
        "cautions": by_step((c.step, c.text) for c in plan.cautions),
    }


def by_step(cautions: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Cautions of each step."""
    found: dict[str, list[str]] = {}
    for step, text in cautions:
        found.setdefault(step, []).append(text)
    return found


def clock_time(seconds: float) -> str:
    """Minutes and seconds, or a dash for what does not come within a day."""
    return minutes(seconds) if math.isfinite(seconds) else "not in a day"


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
    b = Scale(step=scale.step, us=scale.us).mass(weighed.batch_b)
    fine = Scale(step=0.1 * scale.step, us=scale.us)
    pigment, also = fine.mass(weighed.batch_pigment), fine.also(weighed.batch_pigment)
    grams = f" ({scale.also(weighed.batch_b)} and {also})" if also else ""
    return f"Tint part B first, in one batch for all coats: {b} of part B with {pigment} of pigment{grams}."


def _cup(shot: ShotAmounts, scale: Scale, us: bool) -> dict[str, Any]:
    both = shot.a_volume + shot.b_volume
    return {
        "name": shot.name,
        "a": scale.mass(shot.a),
        "a_also": scale.also(shot.a),
        "b": scale.mass(shot.b_weighed),
        "b_also": scale.also(shot.b_weighed),
        "tinted": shot.pigment > 0.0,
        "mass": scale.mass(shot.mass),
        "stays": scale.mass(shot.stays),
        "cup": volume(shot.cup, us=us),
        "line_a": volume(shot.a_volume, us=us),
        "line_b": volume(both, us=us),
        "fill_a": shot.a_volume / shot.cup,
        "fill_b": both / shot.cup,
    }


def _times(shot: PlannedShot) -> dict[str, str]:
    when, budget = shot.clock.minutes, shot.clock.budget
    return {
        "name": shot.name,
        "mix": minutes(shot.clock.mixed_at),
        "pour": clock_time(budget.pour_within),
        "close": clock_time(budget.closed_within),
        "turn": clock_time(when.gel_film),
        "cup": clock_time(when.gel_witness),
        "next": f"{clock_time(when.next_from)} – {clock_time(when.next_to)}",
    }


def _before(plan: Plan) -> str:
    """What goes on the wall before the first coat."""
    kinds = {shot.kind for shot in plan.weigh_out.shots}
    said = []
    if "cleaning" in kinds:
        said.append(
            "The cleaning shot comes first: turn it as the coats, then cut it open and measure it; it is not kept."
        )
    if "brush" in kinds:
        said.append(
            "Brush the narrow places before coat 1 is mixed, and pour while the brushed resin is tacky."
        )
    return " ".join(said)


def _stages(job: Job, plan: Plan) -> list[dict[str, str]]:
    turning = job.turning
    if turning.pattern == "constant":
        gel = plan.shots[0].clock.minutes.gel_film
        stop = gel if turning.stop_after is None else turning.stop_after
        words = (
            f"Turn steadily, the frame {from_si(turning.frame_rate, 'rpm'):.1f} and the cradle in it "
            f"{from_si(turning.cradle_rate, 'rpm'):.1f} turns a minute."
        )
        return [_stage("turn", plan.program.start, stop, words)]
    stages = []
    for stage in plan.program.stages:
        stop = stage.stop
        if turning.stop_after is not None and stage.name != "rest":
            stop = min(stop, turning.stop_after)
        if stop > stage.start:
            stages.append(_stage(STAGES[stage.name], stage.start, stop, stage.words))
    return stages


def _stage(name: str, start: float, stop: float, words: str) -> dict[str, str]:
    return {"name": name, "time": f"{clock_time(start)} – {clock_time(stop)}", "words": words}
