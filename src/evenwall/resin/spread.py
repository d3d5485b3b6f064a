"""How sure a figure is and which value it hangs on most: each value of the sheet to both ends of its band."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

from evenwall.errors import ResinError
from evenwall.resin.calibrate import calibrate
from evenwall.resin.cuptest import GEL_ERROR, LEAST_GEL_ERROR
from evenwall.resin.data import DataSheet, Resin, Value
from evenwall.resin.filler import filled
from evenwall.resin.typical import TYPICAL

SHEET_TOLERANCE: Final = 0.10  # what a data sheet's time or viscosity is worth without a band [-], assumed

MATTERS: Final = (
    "pot_life",
    "pot_life_viscosity",
    "second_pot_life",
    "gel_time",
    "setting_time",
    "peak_exotherm",
    "viscosity",
    "cure_activation",
    "flow_activation",
    "reaction_heat",
    "heat_capacity",
    "conductivity",
    "density",
    "order_n",
    "order_m",
    "seed",
    "gel_conversion",
    "exponent_a",
    "exponent_b",
    "demold",
    "demold_conversion",
    "recoat",
)
TIMES: Final = ("pot_life", "second_pot_life", "gel_time", "setting_time", "viscosity", "demold", "recoat")


@dataclass(frozen=True, kw_only=True)
class Band:
    """A figure with the ends of what it may be."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Influence:
    """What one value of the sheet does to a figure."""

    name: str  # field of DataSheet
    down: float  # change of the figure with the value at its low end, in the figure's unit
    up: float  # change with the value at its high end
    known: bool  # measured or from the data sheet; False: typical or assumed

    @property
    def size(self) -> float:
        """The larger of both changes."""
        return max(abs(self.down), abs(self.up))


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Bands of some figures and what they hang on, largest first."""

    bands: tuple[Band, ...]  # one a figure, in the order asked for
    influences: tuple[tuple[Influence, ...], ...]  # one tuple a figure


def spread(resin: Resin, figures: Callable[[Resin], tuple[float, ...]]) -> Spread:
    """Move every value that `resin` was given to both ends of its band, calibrate again, ask for the `figures`.

    A cup test's gel is moved by what its reading may be off. The ends are combined as root sums of squares, low
    and high apart, in ratios where the figure can't be below 0: the values are taken as independent. A value whose
    end can't be calibrated counts with its other end only. About a second for 20 values.
    """
    sheet = resin.given

    def asked(changed: DataSheet) -> tuple[float, ...] | None:
        try:
            return figures(_refilled(calibrate(changed), resin))
        except ResinError:
            return None

    middle = figures(resin)
    found: list[list[Influence]] = [[] for _ in middle]
    for name, known, low, high in _moves(sheet):
        down, up = (middle if moved is None else asked(moved) or middle for moved in (low, high))
        for place, number in enumerate(middle):
            changes = _change(down[place], number), _change(up[place], number)
            found[place].append(Influence(name=name, down=changes[0], up=changes[1], known=known))
    bands = tuple(_band(number, rows) for number, rows in zip(middle, found, strict=True))
    ranked = tuple(tuple(sorted(rows, key=lambda row: -row.size)) for rows in found)
    return Spread(bands=bands, influences=ranked)


def most_wanted(found: Spread, *, figure: int = 0) -> Influence | None:
    """The value nobody gave that this figure hangs on most: what to look up or measure next."""
    missing = [row for row in found.influences[figure] if not row.known and row.size > 0.0]
    return missing[0] if missing else None


def _value(sheet: DataSheet, name: str) -> Value | None:
    """The sheet's own value; else the typical one, unless a value of the sheet fixes that constant."""
    own: Value | None = getattr(sheet, name)
    if own is not None:
        return own
    fixed = {
        "cure_activation": sheet.second_pot_life,
        "reaction_heat": sheet.peak_exotherm,
        "exponent_a": sheet.gel_time or sheet.setting_time,
    }
    return None if fixed.get(name) is not None else TYPICAL.get(name)


def _ends(name: str, value: Value) -> tuple[float, float]:
    low, high = value.band
    if low < high:
        return low, high
    if name in TIMES:
        return (1.0 - SHEET_TOLERANCE) * value.number, (1.0 + SHEET_TOLERANCE) * value.number
    if name == "peak_exotherm":
        return value.number - 5.0, value.number + 5.0
    return value.number, value.number


def _moves(sheet: DataSheet) -> Iterator[tuple[str, bool, DataSheet | None, DataSheet | None]]:
    """What can be moved: its name, whether it is known, and the sheet with it at its low and its high end."""
    for name in MATTERS:
        value = _value(sheet, name)
        if value is None:
            continue
        low, high = (
            None
            if end == value.number
            else _with(sheet, name, replace(value, number=end, low=None, high=None))
            for end in _ends(name, value)
        )
        yield name, value.pedigree in ("measured", "data sheet"), low, high
    for place, test in enumerate(sheet.cup_tests):
        if test.gel is not None:
            error = max(GEL_ERROR * test.gel, LEAST_GEL_ERROR)
            low, high = (_with_test(sheet, place, test.gel + way * error) for way in (-1.0, 1.0))
            yield f"cup_test_{place + 1}", True, low, high


def _with(sheet: DataSheet, name: str, value: Value) -> DataSheet:
    changed: dict[str, Any] = {name: value}
    return replace(sheet, **changed)


def _with_test(sheet: DataSheet, place: int, gel: float) -> DataSheet:
    tests = list(sheet.cup_tests)
    tests[place] = replace(tests[place], gel=gel)
    return replace(sheet, cup_tests=tuple(tests))


def _refilled(again: Resin, before: Resin) -> Resin:
    """`again` with the filler that was in the resin `before`."""
    return again if before.filler is None else filled(again, before.filler, before.filler_share).resin


def _change(number: float, middle: float) -> float:
    change = number - middle
    return change if math.isfinite(change) else 0.0


def _band(middle: float, rows: list[Influence]) -> Band:
    """Root sums of squares of the changes, of their logarithms where the figure is above 0 at every end."""
    ends = [(middle + row.down, middle + row.up) for row in rows]
    if middle > 0.0 and all(min(pair) > 0.0 for pair in ends):
        logs = [(math.log(down / middle), math.log(up / middle)) for down, up in ends]
        below, above = _sums(logs)
        return Band(low=middle * math.exp(-below), middle=middle, high=middle * math.exp(above))
    below, above = _sums([(row.down, row.up) for row in rows])
    return Band(low=middle - below, middle=middle, high=middle + above)


def _sums(changes: list[tuple[float, float]]) -> tuple[float, float]:
    below = math.sqrt(sum(min(down, up, 0.0) ** 2 for down, up in changes))
    above = math.sqrt(sum(max(down, up, 0.0) ** 2 for down, up in changes))
    return below, above
