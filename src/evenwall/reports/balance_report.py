"""The machine's balance as JSON (SI, the unit as each key's suffix) and as lines of text."""

from __future__ import annotations

from typing import Any

from evenwall.machine.balance import BalanceReport, BeforeAfter
from evenwall.reports.summary import coarse
from evenwall.reports.worksheet_machine import as_weight, mass


def balance_as_json(report: BalanceReport) -> dict[str, Any]:
    """The contract's keys of `evenwall balance --json`, and what a reader needs besides."""
    smallest = report.clearance.smallest
    return {
        "frame_axis_torque_N_m": _pair(report.frame_axis_torque),
        "cradle_axis_torque_N_m": _pair(report.cradle_axis_torque),
        "counterweights": [
            {
                "name": piece.name,
                "mass_kg": piece.mass,
                "at_m": list(piece.at),
                "place": piece.place,
                "carrier": piece.carrier,
            }
            for piece in report.counterweights
        ],
        "rim_force_N": report.rim_force,
        "rim_force_limit_N": report.limit,
        "within_limit": report.reached,
        "friction_force_N": report.friction_force,
        "liquid_torque_N_m": {"usual": report.liquid_torque[0], "most": report.liquid_torque[1]},
        "clearance_m": smallest.gap,
        "clearance_between": [smallest.part, smallest.obstacle],
        "seat": {"shift_m": list(report.seat.shift), "words": report.seat.words},
        "turning_mass_kg": report.turning_mass,
        "bill": [
            {
                "name": line.name,
                "carrier": line.carrier,
                "mass_kg": line.mass,
                "known": line.known,
                "centre_m": list(line.centre),
            }
            for line in report.bill
        ],
        "strength_holds": report.strength.holds,
        "notes": [*report.notes, *report.strength.notes],
        "assumed": list(report.assumed),
        "cautions": [{"step": c.step, "text": c.words} for c in report.cautions],
    }


def balance_lines(report: BalanceReport, *, us: bool) -> list[str]:
    """What the balance says, for a terminal."""
    smallest = report.clearance.smallest
    lines = [f"{report.seat.words[0].upper()}{report.seat.words[1:]}."]
    lines += [
        f"hang {piece.name} ({mass(piece.mass, us=us)}) at {piece.place}" for piece in report.counterweights
    ] or ["no counterweight is needed"]
    for name, torque in (("frame", report.frame_axis_torque), ("cradle", report.cradle_axis_torque)):
        lines.append(
            f"worst torque about the {name} axis: {torque.before:.2f} N m before, {torque.after:.2f} N m after"
        )
    lines += [
        f"{report.rim_force:.1f} N at the rim ({as_weight(report.rim_force, us=us)}), wanted {report.limit:g} N",
        f"smallest gap {coarse(smallest.gap, us=us)}: {smallest.part} to {smallest.obstacle}",
        f"{mass(report.turning_mass, us=us)} turn in all, the mold {mass(_mold(report), us=us)}",
    ]
    said = (*report.notes, *report.strength.notes)
    lines += [f"- {one}" for one in (*said, *(f"assumed: {one}" for one in report.assumed))]
    return [*lines, *(f"! {c.step}: {c.words}" for c in report.cautions)]


def _pair(torque: BeforeAfter) -> dict[str, float]:
    return {"before": torque.before, "after": torque.after}


def _mold(report: BalanceReport) -> float:
    return next(line.mass for line in report.bill if line.name == "mold")
