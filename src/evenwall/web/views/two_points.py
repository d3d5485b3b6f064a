"""The piece's size by a distance that was measured between two of its places, tapped or typed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from evenwall.files.mesh_file import place_on_piece
from evenwall.web import rooms
from evenwall.web.asks import Ask
from evenwall.web.tags import knob, sheet, tag, words
from evenwall.web.window import Window

Points = Sequence[Sequence[float]]


def build(window: Window) -> None:
    """The section of the Piece view; nothing where there is no mesh to scale."""
    piece = window.desk.file.piece
    if not piece.mesh:
        return
    with sheet("Size by two points"):
        words(
            "p",
            "Tap a place on the piece that you can find on the real one, then another, and say how far apart "
            "they are there. It goes before the unit.",
            "note",
        )
        _taken(window, piece.between)
        window.ask(
            Ask(
                key="piece.between",
                label="Both points",
                kind="points",
                note="x y z of each, in the file's own numbers: 0 12.5 3; 0 95 3",
            )
        )
        if len(piece.between) == 2 or piece.distance_mm is not None:
            window.ask(
                Ask(key="piece.distance_mm", label="Measured between them", unset="the unit gives the size")
            )
        account = rooms.kept_piece(window.desk.folder, window.desk.file)
        if account is None:
            words("p", "While the piece can't be shown, choose its unit first, or type both points.", "note")
        elif len(piece.between) == 2:
            words(
                "p",
                f"On the piece they are {window.amount(_apart(account, piece.between), 'mm')} apart; "
                f"it is {size_words(window, account)}.",
                role="status",
            )


def point_marks(account: rooms.PieceAccount, between: Points) -> list[dict[str, Any]]:
    """Both picked points as marks in the 3-D view."""
    return [
        {"name": f"point {k}", "at": list(place_on_piece(account, point)), "kind": "point"}
        for k, point in enumerate(between if account.scan else (), 1)
    ]


def size_words(window: Window, account: rooms.PieceAccount) -> str:
    """The piece's extents, e.g. "120 × 80 × 95 mm"."""
    shown = [window.amount(extent, "mm", digits=0).split(" ") for extent in account.extents]
    return f"{' × '.join(number for number, _ in shown)} {shown[0][1]}"


def _apart(account: rooms.PieceAccount, between: Points) -> float:
    first, second = (np.asarray(place_on_piece(account, point)) for point in between)
    return float(np.linalg.norm(second - first))


def _taken(window: Window, between: Points) -> None:
    """What to do with the place that was tapped last, and with the points there are."""
    points = [list(point) for point in between]
    with tag("div", "row"):
        if window.place is not None:
            here = [float(f"{x:.6g}") for x in window.place]
            knob(
                "Measure from here",
                lambda: window.edit({"piece.between": [here, *points[1:]]}),
                "small plain",
            )
            if points:
                knob(
                    "Measure to here",
                    lambda: window.edit({"piece.between": [points[0], here]}),
                    "small plain",
                )
        if points:
            knob(
                "Forget the points",
                lambda: window.edit({"piece.between": None, "piece.distance_mm": None}),
                "small plain",
            )
