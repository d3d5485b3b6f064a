"""The resin as lines of text and as JSON: today's minutes, how sure they are, what fixed what, what is assumed."""

from __future__ import annotations

import math
from typing import Any, Final

from evenwall.job import Job
from evenwall.plan.resin_today import ResinToday
from evenwall.plan.sureness import (
    Sureness,
    called,
    lag_sentence,
    look_up_sentence,
    stop_with_cup_sentence,
)
from evenwall.reports.as_json import finite, sure_as_json
from evenwall.reports.summary import WITNESSES, clock_time, mass, temperature
from evenwall.resin.calibrate import Calibration
from evenwall.resin.cure import GAS_CONSTANT
from evenwall.resin.curves import like
from evenwall.resin.sheet_cups import FitRow
from evenwall.resin.spread import Band, Influence
from evenwall.resin.typical import unmeasured
from evenwall.sheet_units import from_sheet_si, unit_name, units_of

GRADUAL: Final = 10.0  # a resin that takes longer than this from flowing to gelled sets gradually [s]
#: constants that cup tests correct: what their unit is in SI, and its name
LEARNT: Final = {
    "rate factor": (1.0, " 1/s at 23 °C"),
    "activation": (1e3, " kJ/mol"),
    "reaction heat": (1e3, " kJ/kg"),
}
MOST: Final = 6  # influences listed


def resin_lines(found: Calibration, job: Job, today: ResinToday, sure: Sureness, *, us: bool) -> list[str]:
    """What there is to know of the job's resin, for a terminal."""
    m, bands = today.story.minutes, sure.coats[0]
    cup = WITNESSES[job.shop.witness.kind]
    lines = [
        f"{found.resin.name}: {mix_words(found)}; {setting_words(found)}",
        "",
        f"fresh mix      {thick_words(today)}",
        f"working time   {clock_time(m.working)} in a cup of {mass(today.first.mass, us=us)}",
        f"cup gels       {clock_time(m.gel_witness)}{_between(bands.gel_witness)}: {cup}",
        f"film gels      {clock_time(m.gel_film)}{_between(bands.gel_film)} on the cold mold",
        f"next coat      {clock_time(m.next_from)} to {clock_time(m.next_to)}",
        f"open           {clock_time(today.clock.open_after)}{_between(sure.open_after)} after the last coat's mixing",
        f"hottest        {temperature(m.film_peak, us=us)} on the wall, "
        f"{temperature(m.cup_peak, us=us)} if the mix is left in its cup",
        f"cup and film   {lag_sentence(bands.film_lag)}",
        f"               {stop_with_cup_sentence(m)}",
        f"warmth         {warmth_words(found)}",
        "",
        "what the film's gel hangs on:",
        *(f"- {influence_words(row)}" for row in sure.hangs_on[:MOST] if row.size > 0.0),
    ]
    if sure.look_up is not None:
        lines.append(f"? {look_up_sentence(sure.look_up)}")
    lines += ["", "what fixed what (sheet, model):", *(f"- {fit_words(row)}" for row in found.rows)]
    lines += [f"- {line}" for line in cup_words(found)]
    lines += ["", "more time, should it get tight:", *(f"- {line}" for line in lever_words(today))]
    lines += ["", *(f"! {text}" for text in found.warnings), *(f"! {one.text}" for one in today.cautions)]
    lines += ["", "typical or assumed:"]
    lines += [f"- {', '.join(names)}: {source}" for source, names in assumed(found).items()]
    return lines


def resin_as_json(found: Calibration, job: Job, today: ResinToday, sure: Sureness) -> dict[str, Any]:
    """The same in SI."""
    m = today.story.minutes
    return {
        "name": found.resin.name,
        "ratio_kg_per_kg": found.resin.ratio,
        "setting_s": found.setting,
        "quickening_per_10_K": quickening(found),
        "witness": {"kind": job.shop.witness.kind, "mass_kg": job.shop.witness.mass},
        "today": {
            "mass_kg": today.first.mass,
            "working_s": finite(m.working),
            "gel_cup_s": finite(m.gel_witness),
            "gel_film_s": finite(m.gel_film),
            "film_lag_s": finite(m.film_lag),
            "runs_on_m": finite(m.runs_on),
            "next_from_s": finite(m.next_from),
            "next_until_s": finite(m.next_to),
            "open_after_s": finite(today.clock.open_after),
            "film_peak_K": m.film_peak,
            "cup_peak_K": m.cup_peak,
        },
        "sure": sure_as_json(sure),
        "levers": [
            {"text": one.words, "gain_s": finite(one.gain), "enough": one.enough} for one in today.levers
        ],
        "calibration": [
            {"value": row.name, "sheet": row.wanted, "model": finite(row.got), "fixes": row.fixes}
            for row in found.rows
        ],
        "cup_tests": _cups_as_json(found),
        "warnings": list(found.warnings),
        "cautions": [{"step": one.step, "text": one.text} for one in today.cautions],
        "values": {
            name: {
                "number": value.number,
                "low": value.band[0],
                "high": value.band[1],
                "pedigree": value.pedigree,
                "source": value.source,
            }
            for name, value in found.resin.sheet.values()
        },
        "assumed": list(found.assumed),
    }


def mix_words(found: Calibration) -> str:
    """The mix ratio both ways."""
    sheet = found.resin.sheet
    assert sheet.ratio is not None
    assert sheet.ratio_by_volume is not None
    return f"100 : {100 * sheet.ratio.number:.3g} by weight, 100 : {100 * sheet.ratio_by_volume.number:.3g} by volume"


def setting_words(found: Calibration) -> str:
    """How gradually it sets."""
    way = "gradually" if found.setting > GRADUAL else "suddenly"
    return f"sets {way}, {found.setting:.0f} s from still flowing to gelled"


def thick_words(today: ResinToday) -> str:
    """How thick the fresh mix is today, beside an everyday liquid."""
    fresh = float(today.story.mixed.viscosity[0])
    return f"{1e3 * fresh:.0f} mPa s, about as {like(fresh).partition(',')[0]}"


def quickening(found: Calibration) -> float:
    """How many times as fast it cures at 30 C as at 20 C [-]."""
    cure = found.resin.cure
    return math.exp(cure.activation / GAS_CONSTANT * (1.0 / 293.15 - 1.0 / 303.15))


def warmth_words(found: Calibration) -> str:
    """What 10 degrees do, and how that is known."""
    said = f"{quickening(found):.1f} times as fast from 20 to 30 °C"
    given = found.resin.given
    if given.cure_activation is not None or given.second_pot_life is not None:
        return f"{said}, as the sheet says"
    if found.cups is not None:
        return f"{said}, from the cup tests and the usual 1.5 to 2.5"
    return f"{said}, assumed (by chemistry 1.5 to 2.5): a second pot life at another temperature would tell"


def influence_words(row: Influence) -> str:
    """What one value does to the film's gel."""
    kind = "known" if row.known else "assumed"
    return f"{called(row.name)} ({kind}): {row.down / 60:+.1f} min at its low end, {row.up / 60:+.1f} at its high end"


def fit_words(row: FitRow) -> str:
    """One value of the sheet beside the model's."""
    fixes = f"fixes the {row.fixes}" if row.fixes else "compared only"
    if row.name == "demold" and not row.fixes:
        fixes = "compared only: a thick casting is cured enough by then, and waits for its hot middle"
    sheet, model = (number_of(row.name, one) for one in (row.wanted, row.got))
    return f"{called(row.name)}: {sheet}, {model} ({100 * row.residual:+.1f} %), {fixes}"


def cup_words(found: Calibration) -> list[str]:
    """What the shop's own cup tests changed."""
    if found.cups is None:
        return []
    told = zip(found.resin.sheet.cup_tests, found.cups.gel_before, found.cups.gel_after, strict=True)
    lines = [
        f"cup test {k}: gelled after {clock_time(test.gel or float('nan'))}, by the sheet {clock_time(before)}, "
        f"with the tests {clock_time(after)}"
        for k, (test, before, after) in enumerate(told, start=1)
    ]
    for row in found.cups.learnt:
        one, unit = LEARNT.get(row.name, (1.0, ""))
        before, after, low, high = (f"{x / one:.3g}" for x in (row.before, row.after, row.low, row.high))
        lines.append(f"{row.name}: {before} by the sheet, {after}{unit} with the tests ({low} to {high})")
    return lines


def lever_words(today: ResinToday) -> list[str]:
    """What gives more time and how much, after the time there is."""
    spare = next(coat.budget.spare for coat in today.clock.coats)
    said = f"{spare:.0f} s to spare" if spare >= 0.0 else f"{-spare:.0f} s too late"
    return [f"as planned: {said}", *(f"{one.words}: {one.gain:.0f} s more" for one in today.levers)]


def assumed(found: Calibration) -> dict[str, list[str]]:
    """By their source: names and numbers of all values that nobody measured or printed."""
    groups: dict[str, list[str]] = {}
    for name, value in unmeasured(found.resin.sheet):
        groups.setdefault(value.source, []).append(f"{called(name)} {number_of(name, value.number)}")
    return groups


def number_of(field: str, value: float) -> str:
    """An SI value of the sheet in its usual unit."""
    unit = units_of(field)[0]
    number = from_sheet_si(value, unit)
    return f"{number:.4g} {unit_name(unit)}".strip()


def _between(band: Band) -> str:
    return f" ({clock_time(band.low)} to {clock_time(band.high)})"


def _cups_as_json(found: Calibration) -> list[dict[str, Any]]:
    if found.cups is None:
        return []
    told = zip(found.resin.sheet.cup_tests, found.cups.gel_before, found.cups.gel_after, strict=True)
    return [
        {
            "mass_kg": test.mass,
            "temperature_K": test.temperature,
            "gel_s": test.gel,
            "readings": len(test.times),
            "gel_by_sheet_s": finite(before),
            "gel_with_tests_s": finite(after),
        }
        for test, before, after in told
    ]
