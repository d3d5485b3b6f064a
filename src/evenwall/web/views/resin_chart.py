"""Cup and film over the minutes since mixing: how thick, how warm, how far cured."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from evenwall.resin.curves import Curves, Mark
from evenwall.units import from_si

GREY: Final = "#8a7d6d"
#: mass: its name, colour, width and dash
DRAWN: Final = {
    "film": ("film on the wall", "#b35c22", 3, "solid"),
    "witness": ("cup that is watched", "#3f8494", 2, "dashed"),
    "cup": ("whole mix, left in its cup", GREY, 2, "dotted"),
}
EVERYDAY: Final = ("olive oil", "glycerol", "honey")  # told beside the axis; the others lie too near these
APART: Final = 0.035  # marks nearer than this to the one before are left out, over the picture's width [-]
BOXES: Final = (("14%", "40%"), ("60%", "15%"), ("80%", "11%"))  # top and height of thick, warm, cured


def cure_chart(curves: Curves, *, us: bool) -> dict[str, Any]:
    """What ECharts draws, with the marks a person needs."""
    unit = "F" if us else "C"
    last = float(curves.time[-1]) / 60.0
    series = []
    for line in curves.lines:
        warm = [from_si(float(k), unit) for k in line.temperature]
        name, colour, width, dash = DRAWN[line.name]
        for box, values in enumerate((line.viscosity, warm, 100.0 * line.conversion)):
            series.append(
                {
                    "name": name,
                    "type": "line",
                    "xAxisIndex": box,
                    "yAxisIndex": box,
                    "showSymbol": False,
                    "data": _points(curves.time / 60.0, np.asarray(values), most=1e3 if box == 0 else 1e9),
                    "lineStyle": {"width": width, "color": colour, "type": dash},
                    "itemStyle": {"color": colour},
                }
            )
    series[0]["markLine"] = _marks(curves)
    axis = {
        "axisLine": {"show": True, "lineStyle": {"color": GREY}},
        "axisLabel": {"color": GREY, "hideOverlap": True},
        "nameTextStyle": {"color": GREY, "align": "left"},
        "splitLine": {"show": False},
    }
    return {
        "animation": False,
        "aria": {"enabled": True},
        "grid": [{"left": 52, "right": 74, "top": top, "height": height} for top, height in BOXES],
        "legend": {"top": 0, "textStyle": {"color": GREY}, "itemWidth": 30},
        "tooltip": {"trigger": "axis", "confine": True},
        "axisPointer": {"link": [{"xAxisIndex": "all"}]},
        "xAxis": [
            {
                "type": "value",
                "gridIndex": box,
                "max": round(last, 1),
                **axis,
                "axisLabel": {"color": GREY, "show": box == 2},
                **(
                    {"name": "minutes since mixing", "nameLocation": "middle", "nameGap": 24}
                    if box == 2
                    else {}
                ),
            }
            for box in range(3)
        ],
        "yAxis": [
            {"type": "log", "gridIndex": 0, "name": "Pa s", "min": 0.01, "max": 1000, **axis},
            {"type": "value", "gridIndex": 1, "name": f"°{unit}", "scale": True, "splitNumber": 2, **axis},
            {
                "type": "value",
                "gridIndex": 2,
                "name": "% cured",
                "min": 0,
                "max": 100,
                "interval": 50,
                **axis,
            },
        ],
        "series": series,
    }


def _points(minutes: Any, values: Any, *, most: float) -> list[list[float]]:
    """What lies on the picture; a mass that has not begun or has gelled has no points."""
    return [
        [round(float(t), 3), float(f"{v:.4g}")]
        for t, v in zip(minutes, values, strict=True)
        if np.isfinite(v) and v < most
    ]


def _marks(curves: Curves) -> dict[str, Any]:
    """Instants as upright lines named along themselves, everyday liquids as level ones named beside."""
    last = float(curves.time[-1])
    kept: list[Mark] = []
    for mark in curves.marks:
        if not kept or mark.time - kept[-1].time > APART * last:
            kept.append(mark)
    upright = [
        {
            "xAxis": round(mark.time / 60.0, 3),
            "label": {"formatter": f"{mark.name} {mark.time // 60:.0f}:{mark.time % 60:02.0f}"},
        }
        for mark in kept
    ]
    level = [
        {"yAxis": viscosity, "lineStyle": {"type": "dotted"}, "label": {"formatter": f"as {name.partition(',')[0]}",
                                                                      "position": "end"}}
        for name, viscosity in curves.everyday
        if name.partition(",")[0] in EVERYDAY
    ]  # fmt: skip
    return {
        "symbol": "none",
        "silent": True,
        "lineStyle": {"color": "rgba(138, 125, 109, .6)", "type": "solid", "width": 1},
        "label": {"color": GREY, "position": "insideEndTop", "fontSize": 12},
        "data": [*upright, *level],
    }
