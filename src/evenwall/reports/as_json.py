"""Plan and forecast as JSON: SI, the unit as each key's suffix."""

from __future__ import annotations

import math
from typing import Any

from evenwall.film.state import CoatResult, Figures, FilmForecast, Finding, Uncertainty
from evenwall.job import Plan, PlannedShot
from evenwall.plan.clock import CoatClock
from evenwall.plan.hand import InHand
from evenwall.plan.resting import RestingPose
from evenwall.plan.sureness import Sureness, lag_sentence, look_up_sentence
from evenwall.plan.weighout import ShotAmounts
from evenwall.resin.curves import Curves
from evenwall.resin.spread import Band


def plan_as_json(plan: Plan) -> dict[str, Any]:
    """The contract's keys of `evenwall plan --json`, and what a reader needs besides."""
    figures = plan.forecast.figures
    return {
        "shots": [_shot(shot) for shot in plan.shots],
        "brush": {
            "mass_kg": sum(shot.mass for shot in plan.weigh_out.shots if shot.kind == "brush"),
            "area_m2": plan.brush.area,
            "pose": plan.pose and _pose(plan.pose),
        },
        "others": [_weights(shot) for shot in plan.weigh_out.shots if shot.kind != "coat"],
        "before": [_before(one) for one in plan.before],
        "weight_kg": plan.hand.weight,
        "board": plan.board
        and {
            "opening": plan.board.opening,
            "area_m2": plan.board.area,
            "mass_kg": plan.board.mass,
            "trimmed_kg": plan.board.trimmed,
        },
        "saved_kg": plan.cost.saved,
        "strength": _strength(plan.hand),
        "sure": sure_as_json(plan.sure),
        "curves": _curves(plan.curves),
        "wall": {"mean_m": figures.mean, "p05_m": figures.p05, "least_m": figures.least},
        "turning": [
            {"name": s.name, "start_s": s.start, "stop_s": s.stop, "words": s.words}
            for s in plan.program.stages
        ],
        "open_after_s": finite(plan.open_after),
        "cost": {"cents": plan.cost.cents, "currency": plan.cost.currency},
        "cautions": [{"step": c.step, "text": c.text} for c in plan.cautions],
        "reasons": list(plan.reasons),
        "weighing": list(plan.weigh_out.notes),
        "assumed": list(plan.assumed),
    }


def forecast_as_json(forecast: FilmForecast) -> dict[str, Any]:
    """The contract's keys of `evenwall forecast --json`; `total` is the sum of all coats."""
    return {
        "brush": forecast.brush and _coat(forecast.brush),
        "coats": [_coat(coat) for coat in forecast.coats],
        "total": {
            "wall": figures_as_json(forecast.figures),
            "uncertainty": figures_as_json(forecast.uncertainty),
            "findings": [_finding(found) for found in forecast.findings],
        },
        "volume_error": forecast.volume_error,
        "enclosed_error": forecast.enclosed_error,
        "steps": forecast.steps,
        "elapsed_s": forecast.elapsed,
        "nodes": forecast.nodes,
        "history": forecast.history,
        "history_reason": forecast.history_reason,
        "stopped": forecast.stopped,
        "assumptions": list(forecast.assumptions),
    }


def figures_as_json(figures: Figures | Uncertainty) -> dict[str, float]:
    """Area-weighted figures of a thickness, or the half-widths of their bands."""
    return {
        "least_m": figures.least,
        "p05_m": figures.p05,
        "median_m": figures.median,
        "mean_m": figures.mean,
        "p95_m": figures.p95,
        "cv": figures.cv,
    }


def finite(value: float) -> float | None:
    """The number, or null where it is infinite or none (JSON knows neither)."""
    return value if math.isfinite(value) else None


def _weights(weigh: ShotAmounts) -> dict[str, Any]:
    return {
        "name": weigh.name,
        "mass_kg": weigh.mass,
        "a_kg": weigh.a,
        "b_kg": weigh.b,
        "pigment_kg": weigh.pigment,
        "filler_kg": weigh.filler,
        "a_m3": weigh.a_volume,
        "b_m3": weigh.b_volume,
        "cup_m3": weigh.cup,
        "stays_kg": weigh.stays,
        "ratio_error": weigh.ratio_error,
    }


def _shot(shot: PlannedShot) -> dict[str, Any]:
    minutes, budget = shot.clock.minutes, shot.clock.budget
    return {
        **_weights(shot.weigh),
        "coat_mean_m": shot.coat,
        "mixed_at_s": shot.clock.mixed_at,
        "pour_within_s": budget.pour_within,
        "turn_for_s": shot.turn_until - shot.shot.pour_after,
        "turn_until_s": shot.turn_until,
        "gel_cup_s": finite(minutes.gel_witness),
        "gel_film_s": finite(minutes.gel_film),
        "film_lag_s": finite(minutes.film_lag),
        "runs_on_m": finite(minutes.runs_on),
        "spare_s": finite(budget.spare),
        "waits_for": shot.clock.waits_for,
        "wall_K": shot.clock.wall_temperature,
        "next_from_s": finite(minutes.next_from),
        "next_until_s": finite(minutes.next_to),
    }


def _before(one: CoatClock) -> dict[str, Any]:
    """Brush coat or cleaning shot: times since the first coat's mixing are below 0."""
    return {
        "name": one.name,
        "mixed_at_s": finite(one.mixed_at),
        "done_within_s": finite(one.budget.cup_limit),
        "spare_s": finite(one.budget.spare),
        "gel_film_s": finite(one.minutes.gel_film),
        "open_after_s": finite(one.minutes.demold),
    }


def _strength(hand: InHand) -> dict[str, Any]:
    """A thumb on the thinnest place."""
    return {
        "least_wall_m": hand.least_wall,
        "at_m": list(hand.at),
        "radius_m": hand.radius,
        "deflection_m": hand.thumb.push.deflection,
        "stress_Pa": hand.thumb.push.stress,
        "stress_share": hand.thumb.stress_share,
        "holds_for_this_shell": hand.thumb.push.shallow,
        "verdict": hand.thumb.verdict,
        "assumed": list(hand.thumb.assumed),
    }


def _curves(curves: Curves) -> dict[str, Any]:
    """Cup and film of the first coat over time; null where there is nothing yet."""
    return {
        "time_s": curves.time.tolist(),
        "lines": [
            {
                "name": line.name,
                "conversion": [finite(x) for x in line.conversion.tolist()],
                "temperature_K": [finite(x) for x in line.temperature.tolist()],
                "viscosity_Pa_s": [finite(x) for x in line.viscosity.tolist()],
            }
            for line in curves.lines
        ],
        "marks": [{"name": mark.name, "at_s": mark.time} for mark in curves.marks],
        "everyday_Pa_s": dict(curves.everyday),
    }


def sure_as_json(sure: Sureness) -> dict[str, Any]:
    """Bands, what the first film's gel hangs on, and what to look up."""
    return {
        "coats": [
            {
                "gel_film_s": _band(coat.gel_film),
                "gel_cup_s": _band(coat.gel_witness),
                "film_lag_s": _band(coat.film_lag),
                "next_from_s": _band(coat.next_from),
                "instruction": lag_sentence(coat.film_lag),
            }
            for coat in sure.coats
        ],
        "open_after_s": _band(sure.open_after),
        "hangs_on": [
            {"value": row.name, "down_s": row.down, "up_s": row.up, "known": row.known}
            for row in sure.hangs_on
        ],
        "look_up": None if sure.look_up is None else look_up_sentence(sure.look_up),
    }


def _band(band: Band) -> dict[str, float | None]:
    return {"low": finite(band.low), "middle": finite(band.middle), "high": finite(band.high)}


def _pose(pose: RestingPose) -> dict[str, Any]:
    return {
        "frame_angle_rad": pose.frame_angle,
        "cradle_angle_rad": pose.cradle_angle,
        "up": list(pose.up),
        "kept_share": pose.kept,
    }


def _coat(coat: CoatResult) -> dict[str, Any]:
    return {
        "gel_film_s": finite(coat.gel_film),
        "wall": figures_as_json(coat.figures),
        "uncertainty": figures_as_json(coat.uncertainty),
        "pool_fraction": coat.pool_fraction,
        "dry_fraction": coat.dry_fraction,
        "peak_K": coat.peak,
        "lump": coat.lump,
        "air_pressure_Pa": coat.air_pressure,
        "air_push_N": coat.air_push,
        "findings": [_finding(found) for found in coat.findings],
    }


def _finding(found: Finding) -> dict[str, Any]:
    return {
        "kind": found.kind,
        "where": found.where,
        "at_m": list(found.at),
        "area_m2": found.area,
        "amount": finite(found.amount),
        "limit": finite(found.limit),
        "text": found.text,
        "help": found.help,
    }
