"""Third page of the worksheet, as texts and one picture: where the mold sits, what is hung, what is left."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from evenwall.machine.balance import BalanceReport
from evenwall.machine.clearance import Gap
from evenwall.machine.counterweights import Hung
from evenwall.reports.pictures import INK, png
from evenwall.reports.summary import coarse
from evenwall.reports.worksheet_plan import by_step
from evenwall.turning.kinematics import GRAVITY
from evenwall.units import from_si

BEFORE: Final = "#9a8f85"


def machine_page(report: BalanceReport, *, us: bool) -> tuple[dict[str, Any], bytes]:
    """What the template's third page shows, and its picture (PNG) of torque against attitude."""
    smallest = report.clearance.smallest
    page = {
        "seat": report.seat.words,
        "torque": [
            ["frame axis", *_pair(report.frame_axis_torque.before, report.frame_axis_torque.after)],
            ["cradle axis", *_pair(report.cradle_axis_torque.before, report.cradle_axis_torque.after)],
        ],
        "force": f"{report.rim_force:.1f} N at the rim ({as_weight(report.rim_force, us=us)}), wanted at most "
        f"{report.limit:g} N; the bearings' friction adds {report.friction_force:.1f} N.",
        "liquid": f"The moving resin pulls with {report.liquid_torque[0]:.2f} N m, at most "
        f"{report.liquid_torque[1]:.2f} N m."
        if report.liquid_torque[1] > 0.0
        else "",
        "hung": [_hung(piece, us) for piece in report.counterweights],
        "gaps": [_gap(gap, us) for gap in report.clearance.gaps],
        "smallest": f"{coarse(smallest.gap, us=us)} ({smallest.part} to {smallest.obstacle})",
        "bill": [
            [line.name, line.carrier, mass(line.mass, us=us), line.known, _at(line.centre, us)]
            for line in report.bill
        ],
        "mass": mass(report.turning_mass, us=us),
        "strength": list(report.strength.notes),
        "checks": f"{len(report.strength.checks)} checks of bars, shafts, clamps and stand, "
        + ("all hold." if report.strength.holds else "not all hold:"),
        "notes": list(report.notes),
        "assumed": list(report.assumed),
        "cautions": by_step((c.step, c.words) for c in report.cautions),
    }
    return page, torque_plot(report)


def mass(value: float, *, us: bool) -> str:
    """The mass [kg] of a part."""
    return f"{from_si(value, 'lb'):.2f} lb" if us else f"{value:.2f} kg"


def torque_plot(report: BalanceReport) -> bytes:
    """A PNG of the gravity torque about both axes over a whole turn, before and after."""
    figure = Figure(figsize=(7.2, 2.3), dpi=200, facecolor="white", layout="constrained")
    FigureCanvasAgg(figure)
    for axes, axis in zip(figure.subplots(1, 2, sharey=True), ("frame", "cradle"), strict=True):
        before, after = report.curves_before, report.curves_after
        axes.plot(
            np.rad2deg(before.angle), getattr(before, axis), color=BEFORE, linestyle="--", label="before"
        )
        axes.plot(np.rad2deg(after.angle), getattr(after, axis), color=INK, linewidth=1.8, label="after")
        axes.axhline(0.0, color=INK, linewidth=0.5)
        axes.set_xticks([0, 90, 180, 270, 360])
        axes.set_xlim(0, 360)
        axes.set_xlabel(f"{axis} angle [degrees]", fontsize=8, color=INK)
        axes.set_title(f"torque about the {axis} axis [N m]", fontsize=8, color=INK, loc="left")
        axes.tick_params(labelsize=8, colors=INK)
        axes.spines[["top", "right"]].set_visible(False)
        axes.legend(fontsize=8, frameon=False, loc="upper right")
    return png(figure)


def _pair(before: float, after: float) -> tuple[str, str]:
    return f"{before:.2f} N m", f"{after:.2f} N m"


def as_weight(force: float, *, us: bool) -> str:
    """A force [N] as the weight that pulls as hard."""
    kilograms = force / GRAVITY
    return (
        f"as {from_si(kilograms, 'oz'):.1f} oz weigh" if us else f"as {from_si(kilograms, 'g'):.0f} g weigh"
    )


def _at(where: tuple[float, float, float], us: bool) -> str:
    unit, digits = ("in", 1) if us else ("mm", 0)
    x, y, z = (round(from_si(value, unit), digits) + 0.0 for value in where)
    return f"{x:.{digits}f}, {y:.{digits}f}, {z:.{digits}f}"


def _hung(piece: Hung, us: bool) -> list[str]:
    return [piece.name, mass(piece.mass, us=us), piece.place, _at(piece.at, us)]


def _gap(gap: Gap, us: bool) -> list[str]:
    degrees = f"{np.rad2deg(gap.frame_angle):.0f}°, {np.rad2deg(gap.cradle_angle):.0f}°"
    return [gap.obstacle, gap.part, coarse(gap.gap, us=us), degrees]
