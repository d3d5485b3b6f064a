"""Resin: what is mixed, how warm it is today, and the minutes that follow."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from nicegui import ui

from evenwall.files.resin_file import DEMO_RESINS
from evenwall.plan.sureness import stop_with_cup_sentence
from evenwall.units import from_si
from evenwall.web import rooms
from evenwall.web.amounts import clock, plain
from evenwall.web.asks import Ask
from evenwall.web.runs import Runs
from evenwall.web.tags import figure, table, tag, words
from evenwall.web.window import Window

LEAD: Final = "A data sheet's numbers and today's temperature give the minutes that everything else hangs on."
CAUTIONS: Final = (
    "Uncured urethane holds isocyanates: gloves, goggles, fresh air; the safety data sheet rules.",
    "A full cup left standing heats itself: spread leftovers out thin, outdoors if they smoke.",
    "Brush solvent gives off vapour that burns and is bad to breathe: no flame, open the door.",
)


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    names = tuple((name, name.replace("-", " ")) for name in DEMO_RESINS)
    own = tuple(
        (path.name, path.stem)
        for path in sorted(window.desk.folder.glob("*.toml"))
        if path.name != "job.toml"
    )
    with tag("div", "spread"):
        with tag("div", "stack"):
            with tag("section", "sheet"):
                words("h2", "What is mixed")
                window.ask(
                    Ask(key="resin.name", label="Resin", kind="choice", options=names + own),
                    Ask(
                        key="resin.pigment_percent",
                        label="Pigment in part B",
                        typical=False,
                        note="Cured colour is paler than wet.",
                    ),
                    Ask(key="resin.filler_percent", label="Filler in the mix", typical=False),
                    Ask(key="resin.filler_density_g_mL", label="Its density", unset="needed with a filler"),
                    columns=False,
                )
            with tag("section", "sheet"):
                words("h2", "The shop today")
                window.ask(
                    Ask(key="shop.air_C", label="Air"),
                    Ask(key="shop.resin_C", label="Resin in the jugs", unset="as warm as the air"),
                    Ask(key="shop.mold_C", label="Mold", unset="as warm as the air"),
                    Ask(key="shop.humidity_percent", label="Relative humidity"),
                )
                window.area(lambda: _damp(window))
            with tag("section", "sheet"):
                words("h2", "Before you mix")
                for caution in CAUTIONS:
                    words("p", caution, "caution")
        with tag("div", "stack"):
            with tag("section", "sheet"):
                words("h2", "The minutes today")
                window.area(lambda: _minutes(window), aria_live="polite")
            with tag("section", "sheet"):
                words("h2", "In the mixing cup")
                window.area(lambda: _chart(window))
            with tag("section", "sheet"):
                words("h2", "Where its numbers come from")
                window.area(lambda: _sheet(window))


def _damp(window: Window) -> None:
    if window.desk.file.shop.humidity_percent > 50.0:
        words(
            "p",
            "Over 50 % humidity urethane may foam: dry the mold and the air, keep paper and wood away.",
            "caution",
        )


def _minutes(window: Window) -> None:
    story = rooms.today_now(window.desk.folder, window.desk.file).story
    times = story.minutes
    mass = rooms.today_now(window.desk.folder, window.desk.file).first.mass
    with tag("dl", "figures"):
        figure("Working time", clock(times.working), f"in a cup of {window.amount(mass, 'g')}")
        figure("Witness cup gels", clock(times.gel_witness))
        figure("Film gels", clock(times.gel_film), "on the mold's wall")
        figure("Next coat", clock(times.next_from), f"and until {clock(times.next_to)}")
        figure("Open from", clock(times.demold), "after the last coat's mixing")
        figure("Hottest in the cup", window.amount(times.cup_peak, "C", digits=0), "if it is not poured")
    words("p", stop_with_cup_sentence(times)[0].upper() + stop_with_cup_sentence(times)[1:] + ".")
    if times.working > 20 * 60:
        words(
            "p",
            "Over twenty minutes is too long to turn by hand: warm the shop, or take a faster resin.",
            "caution",
        )
    elif times.working > 5 * 60:
        words("p", "Over five minutes of working time is tiresome to turn by hand.", "note")


def _chart(window: Window) -> None:
    story = rooms.today_now(window.desk.folder, window.desk.file).story
    history, gel = story.mixed, story.minutes.gel_mixed
    end = min(float(history.time[-1]), 1.4 * gel if np.isfinite(gel) else float(history.time[-1]))
    times = np.linspace(0.0, end, 140)
    thick = np.interp(times, history.time, np.minimum(history.viscosity, 1e4))
    warm = np.interp(times, history.time, history.temperature)
    unit = "F" if window.system == "us" else "C"
    flowing = [[round(t / 60, 3), round(float(v), 3)] for t, v in zip(times, thick, strict=True) if v < 9e3]
    heat = [[round(t / 60, 3), round(from_si(float(k), unit), 1)] for t, k in zip(times, warm, strict=True)]
    words("p", f"Left in its cup the mix is too thick to pour after {clock(story.minutes.working)} and gels after "
               f"{clock(gel)}.")  # fmt: skip
    chart = ui.echart(_options(flowing, heat, unit)).classes("chart")
    chart._props["role"], chart._props["aria-label"] = "img", "Thickness and temperature of the mix over time"


def _options(flowing: list[Any], heat: list[Any], unit: str) -> dict[str, Any]:
    grey = "#8a7d6d"
    axis = {
        "axisLine": {"lineStyle": {"color": grey}},
        "axisLabel": {"color": grey},
        "nameTextStyle": {"color": grey},
        "splitLine": {"lineStyle": {"color": grey, "opacity": 0.25}},
    }
    return {
        "animation": False,
        "aria": {"enabled": True},
        "grid": {"left": 62, "right": 58, "top": 42, "bottom": 46},
        "legend": {"top": 4, "textStyle": {"color": grey}},
        "tooltip": {"trigger": "axis"},
        "xAxis": {"type": "value", "name": "minutes since mixing", "nameLocation": "middle", "nameGap": 28, **axis},
        "yAxis": [
            {"type": "log", "name": "Pa s", **axis, "splitLine": {"lineStyle": {"color": grey, "opacity": 0.25}}},
            {"type": "value", "name": f"°{unit}", "scale": True, **axis, "splitLine": {"show": False}},
        ],
        "series": [
            {"name": "thickness of the mix", "type": "line", "showSymbol": False, "data": flowing,
             "lineStyle": {"width": 3, "color": "#a8541f"}, "itemStyle": {"color": "#a8541f"}},
            {"name": "temperature", "type": "line", "yAxisIndex": 1, "showSymbol": False, "data": heat,
             "lineStyle": {"width": 2, "type": "dashed", "color": "#3f7f8c"}, "itemStyle": {"color": "#3f7f8c"}},
        ],
    }  # fmt: skip


def _sheet(window: Window) -> None:
    found = rooms.calibrated(window.desk.folder, window.desk.file)
    for warning in found.warnings:
        words("p", warning, "caution")
    if found.assumed:
        silent = ", ".join(name.replace("_", " ") for name in found.assumed)
        words("p", f"Assumed, because the data sheet is silent: {silent}.", "doubt")
    rows = [
        [name.replace("_", " "), plain(value.number, 4), value.pedigree, value.source]
        for name, value in found.resin.sheet.values()
    ]
    with tag("details"):
        words("summary", "All values, in SI")
        table(["value", "number", "kind", "source"], rows, numbers=False, caption="Values of the resin")
