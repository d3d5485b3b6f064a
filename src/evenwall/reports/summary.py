"""Plan and forecast as lines of text, in the units of the user's choice."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import Final

from evenwall.film.places import side_words
from evenwall.film.run import ASSUMPTIONS
from evenwall.film.state import FilmForecast, Finding, FindingKind
from evenwall.job import Job, Plan
from evenwall.plan.cautions import ALWAYS
from evenwall.plan.clock import CoatClock
from evenwall.plan.resting import RestingPose
from evenwall.plan.sureness import lag_sentence, look_up_sentence, stop_with_cup_sentence
from evenwall.reports.turning_words import turning_told
from evenwall.units import from_si

WITNESSES: Final = {
    "rest": "the rest in the mixing cup",
    "thin": "a few grams spread thin in a lid",
    "poured": "a small cup poured with the shot",
}


def mass(value: float, *, us: bool) -> str:
    """A weighed mass [kg] as people read it off a scale."""
    return f"{from_si(value, 'oz'):.2f} oz" if us else f"{from_si(value, 'g'):.1f} g"


def length(value: float, *, us: bool) -> str:
    """A wall thickness [m]."""
    return f"{from_si(value, 'in'):.3f} in" if us else f"{from_si(value, 'mm'):.2f} mm"


def left_open(value: float, half: float, said: Callable[[float], str]) -> str:
    """What a band of half-width `half` leaves open in a `value` that can't be below 0; `said` puts one in words."""
    return f"(0 to {said(value + half)})" if half >= value and half > 0.0 else f"± {said(half)}"


def coarse(value: float, *, us: bool) -> str:
    """A length that is read off a rule or a gap [m]."""
    return f"{from_si(value, 'in'):.2f} in" if us else f"{from_si(value, 'mm'):.0f} mm"


def volume(value: float, *, us: bool) -> str:
    """A volume [m3]."""
    return f"{from_si(value, 'fl oz'):.1f} fl oz" if us else f"{from_si(value, 'mL'):.0f} mL"


def capital(sentence: str) -> str:
    """The sentence with a capital at its beginning."""
    return sentence[:1].upper() + sentence[1:]


def minutes(seconds: float) -> str:
    """Minutes and seconds since mixing, e.g. 2:05."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def clock_time(seconds: float) -> str:
    """Minutes and seconds, or a dash for what does not come within a day."""
    return minutes(seconds) if math.isfinite(seconds) else "not in a day"


def temperature(kelvin: float, *, us: bool) -> str:
    """A temperature [K]."""
    return f"{from_si(kelvin, 'F'):.0f} °F" if us else f"{from_si(kelvin, 'C'):.0f} °C"


def plan_lines(job: Job, plan: Plan, *, us: bool) -> list[str]:
    """What the plan says, for a terminal."""
    figures, band = plan.forecast.figures, plan.forecast.uncertainty
    lines = [job.name, ""]
    lines += [
        f"{shot.name:14} A {mass(shot.a, us=us):>9}  B {mass(shot.b, us=us):>9}"
        + (f"  pigment {mass(shot.pigment, us=us)}" if shot.pigment else "")
        + (f"  filler {mass(shot.filler, us=us)}" if shot.filler else "")
        + f"  in a cup of {volume(shot.cup, us=us)}"
        for shot in plan.weigh_out.shots
    ]
    lines += ["", *(before_line(one) for one in plan.before)]
    if plan.pose is not None:
        lines.append(f"{'':14} {pose_words(job, plan.pose)}")
    for shot, bands in zip(plan.shots, plan.sure.coats, strict=True):
        times = shot.clock
        lines += [
            f"{shot.name:14} mix at {minutes(times.mixed_at)}, pour within {minutes(times.budget.pour_within)}, "
            f"turn at least until {clock_time(shot.turn_until)} after mixing: then it sags no more",
            f"{'':14} film gels {clock_time(times.minutes.gel_film)} "
            f"({clock_time(bands.gel_film.low)} to {clock_time(bands.gel_film.high)})",
            f"{'':14} cup gels {clock_time(times.minutes.gel_witness)}: {lag_sentence(bands.film_lag)}",
        ]
    lines += [
        "",
        *(
            f"{one.name:14} {minutes(one.start)} to {clock_time(one.stop)}: {one.words}"
            for one in turning_told(job, plan)
        ),
        f"{'':14} {stop_with_cup_sentence(plan.shots[0].clock.minutes)}",
        f"open           {clock_time(plan.open_after)} after the last mixing "
        f"({clock_time(plan.sure.open_after.low)} to {clock_time(plan.sure.open_after.high)})",
        "",
        f"wall           mean {_band(figures.mean, band.mean, us)}, "
        f"a twentieth under {_band(figures.p05, band.p05, us)}, thinnest place {_band(figures.least, band.least, us)}",
        f"cost           {plan.cost.cents / 100:.2f} {plan.cost.currency}, "
        f"resin {100 * plan.cost.per_solid:.0f} % of a solid casting's, {mass(plan.cost.saved, us=us)} saved",
        f"in the hand    {mass(plan.hand.weight, us=us)}; {plan.hand.thumb.verdict}",
    ]
    lines += [f"- {reason}" for reason in plan.reasons]
    lines += [f"- {note}" for note in plan.weigh_out.notes]
    lines += [f"! {text}" for text in job_cautions(plan)]
    if plan.sure.look_up is not None:
        lines.append(f"? {look_up_sentence(plan.sure.look_up)}")
    return lines


def before_line(one: CoatClock) -> str:
    """When a brush coat or cleaning shot is mixed, and how long there is for it."""
    return (
        f"{one.name:14} mix it {minutes(-one.mixed_at)} before coat 1, done within {clock_time(one.budget.cup_limit)}, "
        f"gels {clock_time(one.minutes.gel_film)}"
    )


def job_cautions(plan: Plan) -> list[str]:
    """The cautions that this resin, mold and day add to the usual ones."""
    return [caution.text for caution in plan.cautions if caution not in ALWAYS]


def pose_words(job: Job, pose: RestingPose) -> str:
    """How the mold is propped while the brushed resin gels."""
    frame, cradle = (from_si(angle, "deg") for angle in (pose.frame_angle, pose.cradle_angle))
    up = side_words(pose.up, job.piece.sides)
    return (
        f"prop the mold till it gels with the frame at {frame:.0f}° from upright and the cradle at {cradle:.0f}°: "
        f"{up} looks up"
    )


def forecast_lines(forecast: FilmForecast, *, us: bool) -> list[str]:
    """What the forecast says, for a terminal."""
    lines = []
    for number, coat in enumerate(forecast.coats, 1):
        w = coat.figures
        lines.append(
            f"coat {number}: mean {length(w.mean, us=us)}, p05 {_band(w.p05, coat.uncertainty.p05, us)}, "
            f"p95 {_band(w.p95, coat.uncertainty.p95, us)}, least {length(w.least, us=us)}, "
            f"film gels {minutes(coat.gel_film) if coat.gel_film < 1e6 else 'not'}, "
            f"warmest {temperature(coat.peak, us=us)}, pool {coat.pool_fraction:.0%}, dry {coat.dry_fraction:.1%}"
            + (", LUMP" if coat.lump else "")
        )
        lines += [f"  - {finding_line(found, us=us)}" for found in coat.findings]
    w, band = forecast.figures, forecast.uncertainty
    lines += [f"  - {finding_line(found, us=us)}" for found in forecast.findings]
    lines.append(
        f"in all: mean {length(w.mean, us=us)}, p05 {_band(w.p05, band.p05, us)}, "
        f"p95 {_band(w.p95, band.p95, us)}, least {length(w.least, us=us)}"
    )
    lines += [f"? {text}" for text in forecast.assumptions if text not in ASSUMPTIONS]
    lines.append(
        f"{forecast.nodes} nodes, {forecast.steps} steps, {forecast.elapsed:.0f} s, {forecast.history_reason}"
    )
    return lines


def finding_line(found: Finding, *, us: bool) -> str:
    """A finding with where it is, how much of it there is against its limit, and what would help."""
    return f"{found.kind} {found.where}, {finding_amount(found, us=us)}: {found.text} {found.help}".strip()


def finding_amount(found: Finding, *, us: bool) -> str:
    """How much, against what limit, e.g. "4.1 mm (limit 3.0 mm) over 2.3 cm²"."""
    show = _AMOUNTS[_UNITS[found.kind]]
    said = f"{show(found.amount, us)} (limit {show(found.limit, us)})"
    return f"{said} over {area(found.area, us=us)}" if found.area > 0.0 else said


def finding_size(found: Finding, *, us: bool) -> str:
    """How much, and over what area."""
    said = _AMOUNTS[_UNITS[found.kind]](found.amount, us)
    return f"{said}, {area(found.area, us=us)}" if found.area > 0.0 else said


def area(value: float, *, us: bool) -> str:
    """An area [m2] of a place."""
    return f"{from_si(value, 'in2'):.2f} in²" if us else f"{from_si(value, 'cm2'):.1f} cm²"


_AMOUNTS: Final[dict[str, Callable[[float, bool], str]]] = {
    "length": lambda x, us: length(x, us=us),
    "temperature": lambda x, us: temperature(x, us=us),
    "share": lambda x, us: f"{x:.0%}",
    "times": lambda x, us: f"{x:.1f} times",
    "force": lambda x, us: f"{x:.0f} N",
    "volume": lambda x, us: f"{from_si(x, 'fl oz'):.2f} fl oz" if us else f"{from_si(x, 'mL'):.1f} mL",
}
_UNITS: Final[dict[FindingKind, str]] = {
    "dry": "length",
    "thin": "length",
    "pool": "length",
    "lump": "length",
    "drop": "length",
    "fold": "length",
    "sag": "share",
    "not gelled": "share",
    "stopped": "share",
    "hot": "temperature",
    "uneven": "times",
    "spun": "times",
    "air": "force",
    "cut off": "volume",
}


def _band(value: float, half: float, us: bool) -> str:
    return f"{length(value, us=us)} {left_open(value, half, partial(length, us=us))}"
