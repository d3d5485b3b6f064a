"""What `evenwall measure` is asked, in workshop units, as a mesh reading."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenwall.errors import InputError
from evenwall.files.mesh_file import MeshReading, read_mesh
from evenwall.files.mesh_scale import Distance
from evenwall.geometry.shrink import ScanOf, cavity_factor
from evenwall.units import to_si

_SCANS: Final[dict[str, ScanOf]] = {"master": "master", "casting": "casting", "cavity": "cavity"}


@dataclass(frozen=True, kw_only=True)
class MeasureAsk:
    """The command's options as they were typed."""

    unit: str | None = None
    height_mm: float | None = None
    up: str | None = None
    distance_mm: float | None = None
    between: str | None = None  # six numbers: two points in the file's numbers
    scan_of: str = "master"
    mold_shrink_percent: float = 0.0
    resin_shrink_percent: float = 0.0
    answers: tuple[str, ...] = ()  # "question=answer"
    refused: tuple[str, ...] = ()  # names of repairs
    rebuild: bool = False


def measured(path: Path, ask: MeasureAsk) -> MeshReading:
    """The mesh read as asked; InputError in one sentence where an option means nothing."""
    if ask.scan_of not in _SCANS:
        raise InputError(f"--scan-of {ask.scan_of} is not known: use one of {', '.join(_SCANS)}")
    answers: dict[str, str] = {}
    for text in ask.answers:
        question, equals, word = text.partition("=")
        if not equals:
            raise InputError(f"--answer {text!r} has no =: write it as bodies=all")
        answers[question.strip()] = word.strip()
    return read_mesh(
        path,
        unit=ask.unit,
        height=None if ask.height_mm is None else to_si(ask.height_mm, "mm"),
        up=ask.up,
        distance=_distance(ask),
        factor=cavity_factor(
            _SCANS[ask.scan_of],
            mold_shrinkage=ask.mold_shrink_percent / 100.0,
            resin_shrinkage=ask.resin_shrink_percent / 100.0,
        ),
        answers=answers,
        refused=frozenset(ask.refused),
        rebuild="always" if ask.rebuild else "if needed",
    )


def _distance(ask: MeasureAsk) -> Distance | None:
    if ask.distance_mm is None and ask.between is None:
        return None
    if ask.distance_mm is None or ask.between is None:
        raise InputError(
            "a scale by distance needs both --between and --distance-mm: give the one that is missing"
        )
    try:
        a, b, c, d, e, f = (float(word) for word in ask.between.replace(",", " ").split())
    except ValueError:
        raise InputError(
            f'--between "{ask.between}" is not six numbers: write two points as "0 0 0 0 0 8.2"'
        ) from None
    return (a, b, c), (d, e, f), to_si(ask.distance_mm, "mm")
