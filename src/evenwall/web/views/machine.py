"""Machine: what turns, how it balances, what it clears."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from evenwall.machine.balance import BalanceReport
from evenwall.machine.cautions import ALWAYS
from evenwall.web import rooms
from evenwall.web.asks import Ask
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, chart, figure, knob, sheet, table, tag, words
from evenwall.web.window import Window

LEAD: Final = (
    "Frame and cradle: where to sit the mold, which clamps to hang where, and the push left at the rim."
)


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    with tag("div", "spread"):
        with tag("div", "stack"):
            with sheet("The mold"):
                window.ask(
                    Ask(key="mold.weight_g", label="Weight", unset="computed from its size"),
                    Ask(key="mold.outer_mm", label="Outer size", kind="numbers", unset="the piece and its rubber"),
                    Ask(key="mold.rubber_mm", label="Rubber round the piece"),
                    Ask(key="machine.mold_center_mm", label="Its centre from the crossing", kind="numbers",
                        unset="evenwall sits it where it balances best"),
                )  # fmt: skip
            with sheet("Frame and cradle"):
                window.ask(
                    Ask(key="machine.frame_opening_mm", label="Opening of the frame", kind="numbers",
                        unset="just wide enough", note="Along the frame axis, then along the cradle axis."),
                    Ask(key="machine.frame_weight_g", label="Frame weighs", unset="bars of usual size"),
                    Ask(key="machine.cradle_weight_g", label="Cradle weighs", unset="boards of usual size"),
                    Ask(key="machine.rim_mm", label="Hand pushes at radius", unset="the frame's outer edge"),
                    Ask(key="machine.axle_height_mm", label="Axle over the table", unset="900 mm"),
                )  # fmt: skip
            with sheet("Clamps and weights you own"):
                window.area(lambda: _weights(window))
            with sheet("Hands and heads"):
                window.area(lambda: _cautions(window))
        with tag("div", "stack"):
            with sheet("How it turns"):
                window.area(lambda: _answer(window), aria_live="polite")
            with sheet("Torque at every attitude"):
                window.area(lambda: _curves(window))


def _weights(window: Window) -> None:
    owned = _owned(window)
    if not owned:
        words("p", "None given: a usual set from 100 g to 1 kg is taken.", "note")
    for number, weight in enumerate(owned):
        with tag("div", role="group", aria_label=weight["name"]):
            window.ask(
                Ask(key=f"machine.weights.{number}.name", label="What it is", kind="text"),
                Ask(key=f"machine.weights.{number}.weight_g", label="Weight"),
                Ask(key=f"machine.weights.{number}.count", label="How many"),
            )
            knob("Remove", lambda number=number: _remove(window, number), "small plain")
    knob("Add a clamp or weight", lambda: _add(window), "small plain")


def _owned(window: Window) -> list[dict[str, Any]]:
    return [weight.model_dump() for weight in window.desk.file.machine.weights]


def _add(window: Window) -> None:
    window.edit({"machine.weights": [*_owned(window), {"name": "clamp", "weight_g": 500.0, "count": 1}]})


def _remove(window: Window, number: int) -> None:
    window.edit({"machine.weights": [weight for k, weight in enumerate(_owned(window)) if k != number]})


def _cautions(window: Window) -> None:
    report = rooms.balance(window.desk.folder, window.desk.file)
    for caution in report.cautions if report else ALWAYS:
        words("p", window.say(caution.words), "caution")


def _answer(window: Window) -> None:
    report = rooms.balance(window.desk.folder, window.desk.file)
    if report is None:
        words(
            "p",
            "The balance follows once the piece is known; the rest is typical until you say it.",
        )
        return
    with tag("dl", "figures"):
        push = f"wanted: under {report.limit:g} N"
        figure(
            "Push at the rim", f"{report.rim_force:.1f} N", push if report.reached else f"{push}: NOT reached"
        )
        figure("All that turns", window.amount(report.turning_mass, "kg"))
        figure("Clears by", window.amount(report.clearance.smallest.gap, "mm", digits=0),
               f"{report.clearance.smallest.part} to {report.clearance.smallest.obstacle}")  # fmt: skip
    words("p", window.say(report.seat.words))
    for note in report.notes:
        words("p", window.say(note), "caution")
    _hung(window, report)
    if report.assumed:
        with tag("details"):
            words("summary", f"{len(report.assumed)} typical values stand in for what you did not give")
            bullets([window.say(line) for line in report.assumed])


def _hung(window: Window, report: BalanceReport) -> None:
    if not report.counterweights:
        words("p", "No counterweight is needed.", "good")
        return
    rows = [
        [piece.name, window.amount(piece.mass, "g", digits=0), f"{piece.place}, on the {piece.carrier}"]
        for piece in report.counterweights
    ]
    table(["hang", "weight", "where"], rows, numbers=False, caption="Counterweights")
    words("p", "One at a time: hang it, let go carefully, see which side drops.", "note")


def _curves(window: Window) -> None:
    report = rooms.balance(window.desk.folder, window.desk.file)
    if report is None:
        words("p", "The curves follow once the piece is known.")
        return
    before, after = report.curves_before, report.curves_after
    degrees = np.rad2deg(before.angle)
    words(
        "p",
        f"Worst about the frame axis {report.frame_axis_torque.before:.2f} N m before, "
        f"{report.frame_axis_torque.after:.2f} N m after; about the cradle axis "
        f"{report.cradle_axis_torque.before:.2f} and {report.cradle_axis_torque.after:.2f} N m.",
    )
    curves = {
        "frame, before": before.frame,
        "frame, after": after.frame,
        "cradle, before": before.cradle,
        "cradle, after": after.cradle,
    }
    chart(torque_options(degrees, curves), "Torque against the angle turned, before and after")


def torque_options(degrees: NDArray[np.float64], curves: dict[str, NDArray[np.float64]]) -> dict[str, Any]:
    """The chart of torque against attitude."""
    grey = "#8a7d6d"
    axis = {"axisLine": {"lineStyle": {"color": grey}}, "axisLabel": {"color": grey}, "nameTextStyle": {"color": grey},
            "splitLine": {"lineStyle": {"color": grey, "opacity": 0.25}}}  # fmt: skip
    looks = (("#a8541f", "dashed"), ("#a8541f", "solid"), ("#3f7f8c", "dashed"), ("#3f7f8c", "solid"))
    series = [
        {"name": name, "type": "line", "showSymbol": False, "itemStyle": {"color": colour},
         "lineStyle": {"width": 2, "type": dash, "color": colour},
         "data": [[round(float(d), 1), round(float(v), 4)] for d, v in zip(degrees, curve, strict=True)]}
        for (name, curve), (colour, dash) in zip(curves.items(), looks, strict=True)
    ]  # fmt: skip
    return {
        "animation": False,
        "aria": {"enabled": True},
        "grid": {"left": 62, "right": 20, "top": 76, "bottom": 46},
        "legend": {"top": 4, "textStyle": {"color": grey}},
        "tooltip": {"trigger": "axis"},
        "xAxis": {"type": "value", "max": 360, "interval": 45, "name": "turned by, degrees", "nameLocation": "middle",
                  "nameGap": 28, **axis},
        "yAxis": {"type": "value", "name": "N m", **axis},
        "series": series,
    }  # fmt: skip
