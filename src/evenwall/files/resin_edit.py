"""A data sheet typed or corrected, value by value, and cup tests added; comments and order of the file stay."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import tomlkit

from evenwall.errors import ResinError
from evenwall.files.job_file import write_whole
from evenwall.files.resin_file import FORMAT, sheet_from
from evenwall.resin.calibrate import Calibration, calibration
from evenwall.resin.data import CupTest, Pedigree
from evenwall.sheet_units import key_of, keys, units_of
from evenwall.units import from_si

RATIOS: Final = ("mix_by_weight", "mix_by_volume")
TEXTS: Final = ("name", "source", "currency", "moisture_note", "pigment_into")


@dataclass(frozen=True, kw_only=True)
class Change:
    """One value as it is typed; None for `value` forgets it."""

    key: str  # with its unit, e.g. pot_life_min
    value: float | str | list[float] | None
    low: float | None = None  # in the key's unit
    high: float | None = None
    source: str = ""  # the file's own where not given
    pedigree: Pedigree | None = None


def typed(text: str, *, source: str = "", pedigree: Pedigree | None = None) -> Change:
    """A change as the command line takes it: pot_life_min=2.5, with a band pot_life_min=2.5(2.2..2.8), a ratio
    mix_by_weight=100:90, a text name=..., and pot_life_min= to forget it. ResinError where it is none of these.
    """
    key, given, said = (part.strip() for part in text.partition("="))
    if not given:
        raise ResinError(f"{text!r} sets nothing: write key=value, e.g. pot_life_min=2.5")
    if key in TEXTS or not said:
        return Change(key=key, value=said or None)
    if key in RATIOS:
        parts = [_number(key, part) for part in re.split(r"[:/ ]+", said)]
        return Change(key=key, value=parts, source=source, pedigree=pedigree)
    banded = re.fullmatch(r"(\S+)\s*\((\S+?)\.\.(\S+?)\)", said)
    number, low, high = banded.groups() if banded else (said, None, None)
    return Change(
        key=key,
        value=_number(key, number),
        low=None if low is None else _number(key, low),
        high=None if high is None else _number(key, high),
        source=source,
        pedigree=pedigree,
    )


def blank(called: str) -> str:
    """The text of a sheet that says nothing yet but its name."""
    document = tomlkit.document()
    document.add("format", tomlkit.item(FORMAT))
    document.add("name", tomlkit.item(called))
    document.add("source", tomlkit.item("data sheet"))
    document.add("pedigree", tomlkit.item("data sheet"))
    return tomlkit.dumps(document)


def changed(text: str, changes: Iterable[Change]) -> str:
    """The sheet's text with the changes; a value's key in another unit goes. ResinError for an unknown key."""
    document = tomlkit.parse(text)
    known = keys()
    for change in changes:
        if change.key not in (*known, *RATIOS, *TEXTS):
            raise ResinError(f"key {change.key!r} is not known: see docs/resin.md for the keys")
        if change.key in known:
            field, _ = known[change.key]
            for other in (key_of(field, unit) for unit in units_of(field)):
                if other != change.key or change.value is None:
                    document.pop(other, None)
        elif change.value is None:
            document.pop(change.key, None)
        if change.value is not None:
            _put(document, change)
    return tomlkit.dumps(document)


def with_cup_test(text: str, test: CupTest) -> str:
    """The sheet's text with one more cup test."""
    document = tomlkit.parse(text)
    tests = document.setdefault("cup_tests", tomlkit.aot())
    row = tomlkit.table()
    said = {
        "mass_g": from_si(test.mass, "g"),
        "temperature_C": from_si(test.temperature, "C"),
        "air_C": from_si(test.air_temperature, "C"),
        "gel_min": None if test.gel is None else from_si(test.gel, "min"),
        "cup_mm": None if test.diameter is None else from_si(test.diameter, "mm"),
    }
    row.update({key: _round(value) for key, value in said.items() if value is not None})
    if test.times:
        row.add("times_s", [_round(time) for time in test.times])
        row.add("temperatures_C", [_round(from_si(warm, "C")) for warm in test.temperatures])
    if test.note:
        row.add("note", test.note)
    tests.append(row)
    return tomlkit.dumps(document)


def without_cup_test(text: str, number: int) -> str:
    """The sheet's text without its cup test `number`, counted from 1."""
    document = tomlkit.parse(text)
    tests = document.get("cup_tests", [])
    if not 1 <= number <= len(tests):
        raise ResinError(f"cup test {number} is not one of the {len(tests)} that there are: check its number")
    del tests[number - 1]
    if not tests:
        document.pop("cup_tests", None)
    return tomlkit.dumps(document)


def checked(text: str, where: str) -> Calibration:
    """What the text's sheet gives; ResinError in one sentence where it can't be."""
    return calibration(sheet_from(tomllib.loads(text), where=where))


def write_checked(path: Path, text: str) -> Calibration:
    """Write the sheet whole once it is found to give a resin; else nothing is written."""
    found = checked(text, path.name)
    write_whole(path, text.encode("utf-8"))
    return found


def _put(document: Any, change: Change) -> None:
    """Set a key to its plain value, or to a table where it has a source, pedigree or band of its own."""
    own: dict[str, Any] = {"value": change.value}
    own |= {} if change.low is None else {"low": change.low}
    own |= {} if change.high is None else {"high": change.high}
    if change.source and change.source != document.get("source", "data sheet"):
        own["source"] = change.source
    if change.pedigree and change.pedigree != document.get("pedigree", "data sheet"):
        own["pedigree"] = change.pedigree
    if len(own) == 1 or change.key in TEXTS:
        document[change.key] = change.value
    elif change.key in RATIOS:
        document[change.key] = _inline({**own, "value": change.value})
    else:
        document[change.key] = _inline(own)


def _inline(entries: dict[str, Any]) -> Any:
    table = tomlkit.inline_table()
    table.update(entries)
    return table


def _number(key: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ResinError(
            f"{key} = {text!r} is not a number: type the number alone, its unit ends the key"
        ) from None


def _round(value: float) -> float:
    """Without the dust of a change of units."""
    return float(f"{value:.8g}")
