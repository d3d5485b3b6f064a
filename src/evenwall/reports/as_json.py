"""Plan and forecast as JSON: SI, the unit as each key's suffix."""

from __future__ import annotations

import math
from typing import Any

from evenwall.film.state import CoatResult, Figures, FilmForecast, Finding, Uncertainty
from evenwall.job import Plan, PlannedShot
from evenwall.plan.weighout import ShotAmounts


def plan_as_json(plan: Plan) -> dict[str, Any]:
    """The contract's keys of `evenwall plan --json`, and what a reader needs besides."""
    figures = plan.forecast.figures
    return {
        "shots": [_shot(shot) for shot in plan.shots],
        "brush": {
            "mass_kg": sum(shot.mass for shot in plan.weigh_out.shots if shot.kind == "brush"),
            "area_m2": plan.brush.area,
        },
        "others": [_weights(shot) for shot in plan.weigh_out.shots if shot.kind != "coat"],
        "wall": {"mean_m": figures.mean, "p05_m": figures.p05, "least_m": figures.least},
        "turning": [
            {"name": s.name, "start_s": s.start, "stop_s": s.stop, "words": s.words}
            for s in plan.program.stages
        ],
        "open_after_s": finite(plan.open_after),
        "cost": {"cents": plan.cost.cents, "currency": plan.cost.currency},
        "cautions": [{"step": c.step, "text": c.text} for c in plan.cautions],
        "reasons": list(plan.reasons),
        "assumed": list(plan.assumed),
    }


def forecast_as_json(forecast: FilmForecast) -> dict[str, Any]:
    """The contract's keys of `evenwall forecast --json`; `total` is the sum of all coats."""
    return {
        "brush": forecast.brush and _coat(forecast.brush),
        "coats": [_coat(coat) for coat in forecast.coats],
        "total": {
            "wall": figures_as_json(forecast.figures),
            "uncertainty": _uncertainty(forecast.uncertainty),
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


def figures_as_json(figures: Figures) -> dict[str, float]:
    """Area-weighted figures of a thickness."""
    return {
        "least_m": figures.least,
        "p05_m": figures.p05,
        "median_m": figures.median,
        "mean_m": figures.mean,
        "p95_m": figures.p95,
        "cv": figures.cv,
    }


def finite(value: float) -> float | None:
    """The number, or null where it is infinite (JSON knows no infinity)."""
    return value if math.isfinite(value) else None


def _weights(weigh: ShotAmounts) -> dict[str, Any]:
    return {
        "name": weigh.name,
        "mass_kg": weigh.mass,
        "a_kg": weigh.a,
        "b_kg": weigh.b,
        "pigment_kg": weigh.pigment,
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
        "turn_for_s": minutes.gel_film - shot.shot.pour_after,
        "gel_cup_s": finite(minutes.gel_witness),
        "gel_film_s": finite(minutes.gel_film),
        "next_from_s": finite(minutes.next_from),
        "next_until_s": finite(minutes.next_to),
    }


def _coat(coat: CoatResult) -> dict[str, Any]:
    return {
        "gel_film_s": finite(coat.gel_film),
        "wall": figures_as_json(coat.figures),
        "uncertainty": _uncertainty(coat.uncertainty),
        "pool_fraction": coat.pool_fraction,
        "dry_fraction": coat.dry_fraction,
        "peak_K": coat.peak,
        "lump": coat.lump,
        "air_pressure_Pa": coat.air_pressure,
        "air_push_N": coat.air_push,
        "findings": [_finding(found) for found in coat.findings],
    }


def _uncertainty(band: Uncertainty) -> dict[str, float]:
    return {
        "least_m": band.least,
        "p05_m": band.p05,
        "median_m": band.median,
        "mean_m": band.mean,
        "p95_m": band.p95,
        "cv": band.cv,
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
