"""Cup and film over the minutes since mixing: how thick, how warm, how far cured, with the marks a person needs."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from evenwall.reports.pictures import INK, png
from evenwall.resin.curves import Curves, Mark
from evenwall.units import from_si

SOFT: Final = "#6b6158"
#: how each mass is drawn, and what it is called
DRAWN: Final[dict[str, tuple[str, dict[str, Any]]]] = {
    "film": ("film on the wall", {"color": "#a8541f", "linewidth": 2.2}),
    "witness": ("cup that is watched", {"color": "#3f7f8c", "linewidth": 1.6, "linestyle": (0, (5, 1.5))}),
    "cup": (
        "whole mix, left in its cup",
        {"color": "#8a7d6d", "linewidth": 1.3, "linestyle": (0, (1.5, 1.5))},
    ),
}
EVERYDAY: Final = ("olive oil", "glycerol", "honey")  # told beside the axis; the others lie too near these
LETTER: Final = 0.0092  # width of a label's letter over the picture's [-]
ROWS: Final = 4  # of labels


def cure_picture(curves: Curves, *, us: bool, height: float = 4.4) -> bytes:
    """A PNG, 7.2 inches wide and `height` inches high; temperatures in F where `us`."""
    figure = Figure(figsize=(7.2, height), dpi=200, facecolor="white")
    FigureCanvasAgg(figure)
    boxes = figure.subplots(
        3,
        1,
        sharex=True,
        gridspec_kw={"height_ratios": [2.2, 1.2, 1.0], "hspace": 0.13, "left": 0.085, "right": 0.885,
                     "top": 1.0 - 0.72 / height, "bottom": 0.42 / height},
    )  # fmt: skip
    minutes = curves.time / 60.0
    unit = "F" if us else "C"
    for line in reversed(curves.lines):
        name, look = DRAWN[line.name]
        warm = np.array([from_si(float(one), unit) for one in line.temperature])
        for axes, values in zip(boxes, (line.viscosity, warm, 100.0 * line.conversion), strict=True):
            axes.plot(minutes, values, label=name, **look)
    thick, warm_box, cured = boxes
    thick.set(yscale="log", ylim=(0.03, 1e3), ylabel="Pa s")
    warm_box.set_ylabel(f"°{unit}")
    cured.set(ylim=(0, 100), ylabel="% cured", xlim=(0.0, minutes[-1]), xlabel="minutes since mixing")
    for name, viscosity in curves.everyday:
        plain = name.partition(",")[0]
        if plain in EVERYDAY:
            thick.axhline(viscosity, color=SOFT, linewidth=0.5, alpha=0.5)
            thick.text(1.01, viscosity, f"as {plain}", transform=thick.get_yaxis_transform(), va="center",
                       fontsize=8, color=SOFT)  # fmt: skip
    for axes in boxes:
        axes.tick_params(labelsize=8, colors=INK)
        axes.yaxis.label.set(size=8, color=INK)
        axes.xaxis.label.set(size=8, color=INK)
        axes.spines[["top", "right"]].set_visible(False)
        for mark in curves.marks:
            axes.axvline(mark.time / 60.0, color=INK, linewidth=0.7, alpha=0.55)
    _labels(thick, curves.marks, float(minutes[-1]), height)
    thick.legend(
        fontsize=7.5, loc="upper right", reverse=True, facecolor="white", edgecolor="none", framealpha=0.9
    )
    return png(figure)


def _labels(axes: Any, marks: tuple[Mark, ...], last: float, height: float) -> None:
    """Each mark's name over the picture, in the lowest row where it touches no other."""
    ends = [-1.0] * ROWS
    tall = 0.42 * (height - 1.14)  # of the uppermost box [in], nearly
    for mark in marks:
        at = mark.time / 60.0 / last
        text = f"{mark.name} {int(mark.time // 60)}:{int(mark.time % 60):02d}"
        wide = LETTER * len(text) / 0.8
        left = min(at, 1.1 - wide)
        row = next((k for k in range(ROWS) if ends[k] < left), ROWS - 1)
        ends[row] = left + wide
        axes.text(left, 1.0 + (0.03 + 0.155 * row) / tall, text, transform=axes.transAxes, fontsize=8, color=INK,
                  va="bottom", ha="left")  # fmt: skip
