"""The piece without a scan: ways of knowing it, each a short form."""

from __future__ import annotations

from typing import Any, Final

from evenwall.web.asks import Ask
from evenwall.web.tags import knob, tag, words
from evenwall.web.window import Window

#: way -> name on its button, the keys that it asks for, what to look out for
WAYS: Final[dict[str, tuple[str, tuple[str, ...], str]]] = {
    "solid casting": ("I weighed a solid casting", ("weight_g", "density_g_mL"), ""),
    "hollow casting": (
        "I weighed a hollow casting",
        ("weight_g", "density_g_mL", "wall_mm"),
        "Measure the wall with calipers at several places, thin ones too.",
    ),
    "shots": ("This mold took so much before", ("weight_g", "shots", "density_g_mL"), ""),
    "dunked": (
        "I dunked the master",
        ("volume_mL",),
        "Dunk the master, not the mold: damp foams urethane, cut molds leak and soft rubber bulges.",
    ),
    "tape": (
        "I taped its girths",
        ("heights_mm", "girths_mm"),
        "From the foot up, as many girths as heights; 0 for a pointed end.",
    ),
    "box": (
        "I know its length, width, height",
        ("size_mm", "shape"),
        "The roughest of all: any weighing beats it.",
    ),
}
ASKS: Final[dict[str, dict[str, Any]]] = {
    "weight_g": {"label": "Weight"},
    "density_g_mL": {"label": "Density of what it is cast in", "note": "Rigid urethane: 1.0 to 1.1."},
    "wall_mm": {
        "label": "Wall, several readings",
        "kind": "numbers",
        "note": "With blanks between, e.g. 2.8 3.1 2.4",
    },
    "shots": {"label": "Number of such shots"},
    "volume_mL": {"label": "Water displaced"},
    "heights_mm": {"label": "Heights", "kind": "numbers", "note": "With blanks between, rising."},
    "girths_mm": {"label": "Girth at each height", "kind": "numbers"},
    "size_mm": {"label": "Length, width, height", "kind": "numbers"},
    "shape": {"label": "Shape", "kind": "text"},
}


def build(window: Window) -> None:
    """Forms for what is known, and a way to add one."""
    window.area(lambda: _forms(window))


def _forms(window: Window) -> None:
    readings = window.desk.file.piece.readings
    if window.desk.file.piece.mesh:
        words("p", "A mesh is there; readings are kept but the mesh counts.", "note")
    for number, reading in enumerate(readings):
        name, keys, care = WAYS[reading.way]
        with tag("div", role="group", aria_label=name):
            words("h3", name)
            if care:
                words("p", care, "caution")
            asks = [Ask(key=f"piece.readings.{number}.{key}", **ASKS[key]) for key in keys]
            window.ask(*asks)
            knob(
                "Forget this",
                lambda number=number: _forget(window, number),
                "small plain",
                aria_label=f"Forget: {name}",
            )
    with tag("details", **({} if readings or window.desk.file.piece.mesh else {"open": "open"})):
        words("summary", "Add what you know")
        with tag("div", "row"):
            for way, (name, _, _) in WAYS.items():
                knob(name, lambda way=way: _add(window, way), "small plain")


def _add(window: Window, way: str) -> None:
    window.edit({"piece.readings": [*_plain(window), {"way": way}]})


def _forget(window: Window, number: int) -> None:
    window.edit({"piece.readings": [reading for k, reading in enumerate(_plain(window)) if k != number]})


def _plain(window: Window) -> list[dict[str, Any]]:
    return [r.model_dump(exclude_unset=True, exclude_none=True) for r in window.desk.file.piece.readings]
