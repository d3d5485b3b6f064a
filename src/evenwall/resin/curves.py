"""Cup and film over time on one picture: the arrays, the marks a person needs, everyday thicknesses beside."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from evenwall.resin.data import Resin
from evenwall.resin.history import History, viscosities
from evenwall.resin.today import CoatStory, level_deadline

Floats = NDArray[np.float64]

EVERYDAY: Final[tuple[tuple[str, float], ...]] = (
    # at room temperature [Pa s]; general charts, orders of magnitude only
    ("water", 0.001),
    ("olive oil", 0.08),
    ("engine oil", 0.35),
    ("glycerol", 0.93),
    ("castor oil", 0.99),
    ("corn syrup", 1.4),
    ("honey, from memory", 10.0),
)
THICKEST: Final = 1e4  # a picture's axis ends here [Pa s]


@dataclass(frozen=True, kw_only=True)
class Line:
    """One mass over time."""

    name: str  # "cup" (the whole mix), "witness" or "film"
    conversion: Floats  # (k,) [-]; nan where there is none yet
    temperature: Floats  # (k,) [K]
    viscosity: Floats  # (k,) [Pa s], at most THICKEST


@dataclass(frozen=True, kw_only=True)
class Mark:
    """An instant worth a mark."""

    name: str
    time: float  # [s since mixing]


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Everything that the cure plot shows."""

    time: Floats  # (k,) since mixing [s]
    lines: tuple[Line, ...]
    marks: tuple[Mark, ...]  # in order of time, those within the picture
    everyday: tuple[tuple[str, float], ...]  # name and viscosity [Pa s]


def curves(resin: Resin, story: CoatStory, *, points: int = 300, end: float | None = None) -> Curves:
    """Arrays for the cure plot from mixing to `end` [s]; 1.5 times the film's gel if not given."""
    m = story.minutes
    last = end if end is not None else 1.5 * _finite(m.gel_film, float(story.mixed.time[-1]))
    time = np.linspace(0.0, last, points)
    marks = [
        ("pour before", m.working),
        ("whole cup would gel", m.gel_mixed),
        ("cup gels", m.gel_witness),
        ("film stops running", level_deadline(resin, story.film)),
        ("film gels", m.gel_film),
        ("next coat from", m.next_from),
        ("next coat until", m.next_to),
    ]
    return Curves(
        time=time,
        lines=(
            _line("cup", story.mixed, time),
            _line("witness", story.witness, time),
            _line("film", story.film.slowest, time),
        ),
        marks=tuple(
            Mark(name=name, time=at) for name, at in sorted(marks, key=lambda mark: mark[1]) if at <= last
        ),
        everyday=EVERYDAY,
    )


def like(viscosity: float) -> str:
    """The everyday liquid nearest to `viscosity` [Pa s], in ratio."""
    return min(EVERYDAY, key=lambda pair: abs(math.log(pair[1] / viscosity)))[0]


def _finite(value: float, otherwise: float) -> float:
    return value if math.isfinite(value) else otherwise


def _line(name: str, history: History, time: Floats) -> Line:
    conversion = np.interp(time, history.time, history.conversion, left=np.nan)
    temperature = np.interp(time, history.time, history.temperature, left=np.nan)
    there = np.isfinite(conversion)
    thick = np.full(len(time), np.nan)
    thick[there] = np.minimum(viscosities(conversion[there], temperature[there], history.law), THICKEST)
    return Line(name=name, conversion=conversion, temperature=temperature, viscosity=thick)
