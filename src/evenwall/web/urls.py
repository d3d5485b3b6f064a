"""Every address of the app, spelled once."""

from __future__ import annotations

from typing import Final

#: the views in the order of the work: word in the address -> name on the page
VIEWS: Final[dict[str, str]] = {
    "piece": "Piece",
    "resin": "Resin",
    "coats": "Coats",
    "machine": "Machine",
    "turning": "Turning",
    "forecast": "Forecast",
    "bench": "Bench",
    "ledger": "Ledger",
}
START: Final = "/"
PARTS: Final = "/parts"
VIEW: Final = "/job/{key}/{name}"
SHAPE: Final = "/job/{key}/data/shape"
FILM: Final = "/job/{key}/data/film/{run}"
DIFFERENCE: Final = "/job/{key}/data/film/{run}/less/{other}"
MESH: Final = "/job/{key}/mesh"
PAPER: Final = "/job/{key}/worksheet.pdf"


def view(key: str, name: str) -> str:
    """Address of a view of the job `key`."""
    return VIEW.format(key=key, name=name)


def part(name: str) -> str:
    """Address of one of our own scripts or style sheets."""
    return f"{PARTS}/{name}"


def shape(key: str, stamp: str) -> str:
    """Address of the piece's triangles; `stamp` changes when the piece does."""
    return f"{SHAPE.format(key=key)}?of={stamp}"


def film(key: str, run: str) -> str:
    """Address of the film of a kept forecast."""
    return FILM.format(key=key, run=run)


def difference(key: str, run: str, other: str) -> str:
    """Address of the thickness of `run` less that of `other`."""
    return DIFFERENCE.format(key=key, run=run, other=other)


def mesh(key: str) -> str:
    """Address that takes a dropped mesh."""
    return MESH.format(key=key)


def paper(key: str) -> str:
    """Address of the job's worksheet, typeset when it is asked for."""
    return PAPER.format(key=key)
