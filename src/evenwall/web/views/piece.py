"""Piece: a mesh or what is known without one, mended in the open, seen beside a hand."""

from __future__ import annotations

import json
from typing import Any, Final

from nicegui import ui
from nicegui.events import GenericEventArguments

from evenwall.errors import InputError
from evenwall.files.mesh_file import place_in_file
from evenwall.web import rooms, urls
from evenwall.web.asks import Ask
from evenwall.web.runs import Runs
from evenwall.web.tags import figure, knob, sheet, tag, words
from evenwall.web.views.readings import build as build_readings
from evenwall.web.views.sides import axis_of, side_marks
from evenwall.web.views.two_points import build as build_two_points
from evenwall.web.views.two_points import point_marks, size_words
from evenwall.web.window import Window

LEAD: Final = (
    "What is cast, and how large it is. A scan is exact; without one, what you know of the piece will do."
)
UNITS: Final = (
    ("", "choose"),
    ("mm", "millimetres"),
    ("cm", "centimetres"),
    ("m", "metres"),
    ("in", "inches"),
    ("ft", "feet"),
)
UP: Final = (
    ("", "as the file's standard says, else z"),
    *((axis, axis.replace("-", "minus ")) for axis in ("z", "y", "x", "-z", "-y", "-x")),
)
OPENING: Final = (
    ("", "as the scan's opening says"),
    ("closed", "closed all round"),
    ("base counts", "a board closes it; its skin is the base"),
    ("trimmed", "a board closes it; its skin is trimmed off"),
    ("pour hole", "a pour hole with a plug"),
)


SCAN_OF: Final = (
    ("master", "the master that was molded"),
    ("casting", "an earlier casting"),
    ("cavity", "the mold's cavity"),
)
REBUILD: Final = (("if needed", "only where the scan can't be mended"), ("always", "always"))


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    desk = window.desk
    with tag("div", "spread"):
        with tag("div", "stack"):
            with tag("section", "sheet"):
                window.ask(Ask(key="name", label="What it is called", kind="text"))
            known = [_scan, _without]
            if desk.file.piece.readings and not desk.file.piece.mesh:
                known.reverse()  # begin with what there is
            for way in known:
                with tag("section", "sheet"):
                    way(window)
            with sheet("How the mold is closed"):
                window.ask(
                    Ask(key="mold.opening", label="The opening", kind="choice", options=OPENING),
                    Ask(
                        key="mold.opening_cm2",
                        label="Area of the opening",
                        unset="that of the scan's openings",
                        note="What the board or plug covers.",
                    ),
                    columns=False,
                )
        with tag("div", "stack"):
            _picture(window)
            window.area(lambda: build_two_points(window))
            with sheet("What was found"):
                window.area(lambda: _account(window, runs), work=True, aria_live="polite")
            with sheet("Named sides"):
                words("p", "Tap a place on the piece, give that side a name: face, back, base.", "note")
                window.area(lambda: _sides(window))


def _scan(window: Window) -> None:
    words("h2", "From a scan or model")
    tag("drop-mesh", to=urls.mesh(window.desk.key))
    window.area(lambda: _scale(window))


def _without(window: Window) -> None:
    words("h2", "Without a scan")
    build_readings(window)


def _scale(window: Window) -> None:
    """The scale's questions, only where there is a mesh to scale."""
    if not window.desk.file.piece.mesh:
        return
    window.ask(
        Ask(key="piece.unit", label="Its unit", kind="choice", options=UNITS),
        Ask(key="piece.up", label="Axis that points up", kind="choice", options=UP),
    )
    window.ask(
        Ask(key="piece.height_mm", label="Or its true height", unset="the unit gives the size"),
        Ask(key="piece.scan_of", label="What was scanned", kind="choice", options=SCAN_OF),
        Ask(
            key="piece.mold_shrink_percent",
            label="The mold shrinks by",
            typical=False,
            note="Counts where the master was scanned.",
        ),
        Ask(
            key="piece.resin_shrink_percent",
            label="A casting shrinks by",
            unset="what the resin's sheet says",
            note="Counts where a casting was scanned.",
        ),
        Ask(
            key="piece.rebuild",
            label="Build the wall anew from distances",
            kind="choice",
            options=REBUILD,
        ),
    )


def _picture(window: Window) -> None:
    """The piece in 3-D, shown again whenever it changes; a tap is kept for naming a side."""
    view = tag("wall-view", id="piece-view", hand="yes", label="The piece, with a hand beside it")
    shown: rooms.PieceAccount | None = None  # stays in the picture while a change is read or refused

    def again() -> None:
        nonlocal shown
        try:
            key = rooms.piece_key(window.desk.folder, window.desk.file)
            account = rooms.kept_piece(window.desk.folder, window.desk.file)
        except InputError:
            account, key = None, ""
        shown = account or shown
        marks: list[dict[str, Any]] = []
        if account is not None:
            marks = [{"name": "opening", "at": list(middle), "kind": "opening"} for middle in account.middles]
            marks += side_marks(account.vertices, window.desk.file.piece.sides)
            marks += point_marks(account, window.desk.file.piece.between)
        view._props["shape"] = urls.shape(window.desk.key, key) if account is not None else ""
        view._props["marks"] = json.dumps(marks)
        view._props["unit"] = "in" if window.system == "us" else "mm"
        view.update()

    window.areas.append(again)
    again()
    view.on("picked", lambda event: _picked(window, event, shown), args=["detail"])


def _picked(window: Window, event: GenericEventArguments, shown: rooms.PieceAccount | None) -> None:
    detail = event.args["detail"] if isinstance(event.args, dict) else event.args
    window.spot = tuple(float(x) for x in detail["normal"])[:3]
    if shown is not None and shown.scan:
        window.place = place_in_file(shown, [float(x) for x in detail["point"]][:3])
    window.changed()


def _account(window: Window, runs: Runs) -> None:
    """What is known of the piece, or the progress of finding out."""
    desk = window.desk
    key = rooms.piece_key(desk.folder, desk.file)
    if not key:
        words("p", "Nothing yet: drop a mesh, or say what you know without a scan.")
        return
    account = rooms.kept_piece(desk.folder, desk.file)
    if account is None:
        if refusal := runs.refusal(desk.key, "read", of=key):
            words("p", window.say(refusal), "refusal", role="alert")
        else:
            words("p", "Reading and mending ...", role="status")
        return
    with tag("dl", "figures"):
        figure("Wall area", window.amount(account.area, "cm2"), _band(window, account.area_band, "cm2"))
        figure(
            "Volume, if solid", window.amount(account.volume, "mL"), _band(window, account.volume_band, "mL")
        )
        figure("Size", size_words(window, account), "x × y × z, z is up")
    _mending(window, account)


def _band(window: Window, band: tuple[float, float], unit: str) -> str:
    low, high = band
    if high - low < 1e-9 * high:
        return "measured on the mesh"
    return f"{window.amount(low, unit)} to {window.amount(high, unit)}"


def _mending(window: Window, account: rooms.PieceAccount) -> None:
    piece = window.desk.file.piece
    if account.scan:
        state = "closed" if account.closed else "NOT closed: a refused repair left it open"
        words("p", f"{account.kind}, {account.faces_read} triangles, {state}.")
    for warning in account.warnings:
        words("p", window.say(warning), "caution")
    for question in account.questions:
        with tag("div"):
            words("p", window.say(question.sentence))
            with tag("div", "row", role="group", aria_label=question.sentence):
                for option in question.options:
                    chosen = option == question.answer
                    answer = {**piece.answers, question.name: option}
                    knob(
                        option,
                        lambda answer=answer: window.edit({"piece.answers": answer}),
                        "small main" if chosen else "small plain",
                        aria_pressed="true" if chosen else "false",
                    )
    if account.repairs or piece.refuse:
        words("h3", "Repairs")
    for repair in account.repairs:
        with tag("div", "row"):
            words("span", window.say(repair.sentence))
            refuse = [*piece.refuse, repair.name]
            knob("Undo this", lambda refuse=refuse: window.edit({"piece.refuse": refuse}), "small plain")
    for name in piece.refuse:
        with tag("div", "row"):
            words("span", f"{name}: not wanted")
            rest = [other for other in piece.refuse if other != name]
            knob("Do it after all", lambda rest=rest: window.edit({"piece.refuse": rest}), "small plain")
    if account.scan and not account.repairs and account.closed:
        words("p", "Nothing had to be mended.", "good")


def _sides(window: Window) -> None:
    piece = window.desk.file.piece
    for name in piece.sides:
        with tag("div", "row"):
            words("b", name, dir="auto")
            rest: dict[str, Any] = {other: way for other, way in piece.sides.items() if other != name}
            knob(
                "Remove",
                lambda rest=rest: window.edit({"piece.sides": rest}),
                "small plain",
                aria_label=f"Remove {name}",
            )
    if window.spot is None:
        return
    way = window.spot
    account = rooms.kept_piece(window.desk.folder, window.desk.file)
    if account is not None and account.scan:
        axis = axis_of(way, up=account.up)
        if axis != account.up:
            knob(
                f"This side is up ({axis.replace('-', 'minus ')})",
                lambda: window.edit({"piece.up": axis, "piece.sides": None}),
                "small plain",
            )
    with tag("div", "row"):
        for name in ("face", "back", "base", "left", "right"):
            sides = {**piece.sides, name: [round(float(x), 4) for x in way]}
            knob(
                f"This is the {name}", lambda sides=sides: window.edit({"piece.sides": sides}), "small plain"
            )
    with tag("div", "row"):
        box = ui.input("Another name").props("dense maxlength=40")

        def name_it() -> None:
            if text := str(box.value or "").strip():
                window.edit({"piece.sides": {**piece.sides, text: [round(float(x), 4) for x in way]}})

        knob("Name this side", name_it, "small plain")
