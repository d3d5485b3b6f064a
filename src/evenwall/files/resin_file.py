"""A resin's data sheet as TOML: workshop units in the keys, a pedigree with every value.

A value is a number (with the file's own `source` and `pedigree`) or a table
`{ value, low, high, source, pedigree }`; the unit ends the key: `pot_life_min`, `pot_life_mass_g`.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any, Final, get_args

from scipy import constants

from evenwall.errors import ResinError
from evenwall.resin.calibrate import Calibration, calibration
from evenwall.resin.data import CupTest, DataSheet, Pedigree, Resin, Value
from evenwall.sheet_units import keys, to_sheet_si
from evenwall.units import to_si

FORMAT: Final = 1
PEDIGREES: Final = get_args(Pedigree)
DEMO_RESINS: Final = ("museum-gradual", "museum-sudden")
READINGS: Final = ("times_s", "temperatures_C")
CUP_KEYS: Final = {
    # keys of a cup test: the unit of those that are one number
    "mass_g": "g",
    "temperature_C": "C",
    "air_C": "C",
    "gel_min": "min",
    "cup_mm": "mm",
    **dict.fromkeys((*READINGS, "note"), ""),
}
PLAIN: Final = ("source", "pedigree", "name", "currency", "moisture_note")


@dataclass(frozen=True, kw_only=True)
class _Origin:
    """What a plain number of the file is taken to come from."""

    source: str
    pedigree: Pedigree


def load_resin(name_or_path: str | Path) -> Resin:
    """The calibrated resin of evenwall's own list (see DEMO_RESINS) or of a TOML file.

    Raises ResinError with one sentence for a file that can't be read or values that can't be.
    """
    return load_calibration(name_or_path).resin


def load_calibration(name_or_path: str | Path) -> Calibration:
    """As `load_resin`, with the table of what fixed what, the assumed values and the warnings."""
    return calibration(load_sheet(name_or_path))


def load_sheet(name_or_path: str | Path) -> DataSheet:
    """The data sheet of a resin of evenwall's own list or of a TOML file, unchecked against itself."""
    where = str(name_or_path)
    try:
        table = tomllib.loads(sheet_text(name_or_path))
    except tomllib.TOMLDecodeError as fault:
        raise ResinError(f"resin file {where}: {fault}: mend that line") from fault
    return sheet_from(table, where=where)


def sheet_text(name_or_path: str | Path) -> str:
    """The text of a resin file as it was written."""
    where = str(name_or_path)
    if where in DEMO_RESINS:
        return resources.files("evenwall.files").joinpath("resins", f"{where}.toml").read_text("utf-8")
    try:
        return Path(name_or_path).read_text("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        known = ", ".join(DEMO_RESINS)
        raise ResinError(
            f"resin {where!r} is neither a file that can be read nor one of {known}: check its name"
        ) from fault


def sheet_from(table: Mapping[str, Any], *, where: str = "the data sheet") -> DataSheet:
    """A data sheet from keys and values as a resin file has them (a form may call this too).

    Raises ResinError for an unknown key, a wrong unit, or a value that is not a number.
    """
    form = table.get("format", FORMAT)
    if form != FORMAT:
        raise ResinError(f"resin file {where}: format {form!r} is not {FORMAT}: use a newer evenwall")
    origin = _Origin(
        source=_text(table, "source", "data sheet", where),
        pedigree=_pedigree(table.get("pedigree", "data sheet"), where),
    )
    found: dict[str, Any] = {"name": _text(table, "name", Path(where).stem, where)}
    known = keys()
    for key, entry in table.items():
        if key in ("format", *PLAIN):
            continue
        if key in ("mix_by_weight", "mix_by_volume"):
            field = "ratio" if key == "mix_by_weight" else "ratio_by_volume"
            found[field] = _ratio(key, entry, origin, where)
        elif key in ("packs_kg", "packs_g"):
            one = 1.0 if key.endswith("kg") else constants.gram
            found["pack_masses"] = tuple(one * _number(key, size, where) for size in _list(key, entry, where))
        elif key == "cup_tests":
            rows = enumerate(_list(key, entry, where), start=1)
            found["cup_tests"] = tuple(
                cup_test_from(row, f"resin file {where}: cup test {k}") for k, row in rows
            )
        elif key == "hazards":
            found["hazards"] = tuple(str(line) for line in _list(key, entry, where))
        elif key == "pigment_into":
            if entry not in ("A", "B"):
                raise ResinError(f'resin file {where}: pigment_into is {entry!r}: write "A" or "B"')
            found["pigment_into"] = entry
        elif key in known:
            field, unit = known[key]
            if field in found:
                raise ResinError(f"resin file {where}: {field} is given twice: leave one out")
            found[field] = _value(key, entry, unit, origin, where)
        else:
            raise ResinError(f"resin file {where}: key {key!r} is not known: see docs/resin.md for the keys")
    for plain in ("currency", "moisture_note"):
        found[plain] = _text(table, plain, "", where)
    return DataSheet(**found)


def _value(key: str, entry: Any, unit: str, origin: _Origin, where: str) -> Value:
    if not isinstance(entry, Mapping):
        return Value(
            number=to_sheet_si(_number(key, entry, where), unit),
            source=origin.source,
            pedigree=origin.pedigree,
        )
    strange = set(entry) - {"value", "low", "high", "source", "pedigree"}
    if strange or "value" not in entry:
        raise ResinError(
            f"resin file {where}: {key} must be a number or {{ value, low, high, source, pedigree }}: mend it"
        )
    number, low, high = (
        to_sheet_si(_number(key, entry[part], where), unit) if part in entry else None
        for part in ("value", "low", "high")
    )
    assert number is not None
    if (low is not None and low > number) or (high is not None and high < number):
        raise ResinError(f"resin file {where}: {key} is not between its low and high: put them in order")
    return Value(
        number=number,
        low=low,
        high=high,
        source=str(entry.get("source", origin.source)),
        pedigree=_pedigree(entry.get("pedigree", origin.pedigree), where),
    )


def _ratio(key: str, entry: Any, origin: _Origin, where: str) -> Value:
    """[parts of A, parts of B], or a table with that as its value."""
    said = entry if isinstance(entry, Mapping) else {"value": entry}
    parts = [_number(key, part, where) for part in _list(key, said.get("value"), where)]
    if len(parts) != 2 or min(parts) <= 0.0:
        raise ResinError(f"resin file {where}: {key} must be [parts of A, parts of B], both above 0: mend it")
    return Value(
        number=parts[1] / parts[0],
        source=str(said.get("source", origin.source)),
        pedigree=_pedigree(said.get("pedigree", origin.pedigree), where),
    )


def cup_test_from(row: Any, where: str) -> CupTest:
    """A cup test of the file; what it says is checked where it is fitted."""
    if not isinstance(row, Mapping) or (strange := set(row) - set(CUP_KEYS)):
        odd = f" (not {', '.join(sorted(strange))})" if isinstance(row, Mapping) else ""
        raise ResinError(f"{where} has the keys {', '.join(CUP_KEYS)}{odd}: mend it")
    numbers = {
        key: to_si(_number(key, row[key], where), unit)
        for key, unit in CUP_KEYS.items()
        if unit and key in row
    }
    if "mass_g" not in numbers or "temperature_C" not in numbers:
        raise ResinError(f"{where} needs mass_g and temperature_C: weigh the cup and read the thermometer")
    times, warm = (
        [_number(key, one, where) for one in _list(key, row.get(key, []), where)] for key in READINGS
    )
    return CupTest(
        mass=numbers["mass_g"],
        temperature=numbers["temperature_C"],
        air_temperature=numbers.get("air_C", numbers["temperature_C"]),
        gel=numbers.get("gel_min"),
        times=tuple(times),
        temperatures=tuple(to_si(one, "C") for one in warm),
        diameter=numbers.get("cup_mm"),
        note=_text(row, "note", "", where),
    )


def _number(key: str, entry: Any, where: str) -> float:
    if isinstance(entry, bool) or not isinstance(entry, int | float) or not math.isfinite(entry):
        raise ResinError(f"resin file {where}: {key} is {entry!r}, not a number: type the number")
    return float(entry)


def _list(key: str, entry: Any, where: str) -> list[Any]:
    if not isinstance(entry, list):
        raise ResinError(f"resin file {where}: {key} is {entry!r}, not a list: write it in [ ]")
    return entry


def _text(table: Mapping[str, Any], key: str, default: str, where: str) -> str:
    entry = table.get(key, default)
    if not isinstance(entry, str):
        raise ResinError(f'resin file {where}: {key} is {entry!r}, not text: write it in " "')
    return entry


def _pedigree(entry: Any, where: str) -> Pedigree:
    if entry not in PEDIGREES:
        raise ResinError(f"resin file {where}: pedigree {entry!r} is not one of {', '.join(PEDIGREES)}")
    chosen: Pedigree = entry
    return chosen
