"""Temperatures of a cup test as CSV: a header naming the units, then one reading a line."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Final

from evenwall.errors import ResinError
from evenwall.units import to_si

TIMES: Final = {"time_s": "s", "time_min": "min"}
TEMPERATURES: Final = {"temperature_C": "C", "temperature_F": "F"}
MOST_BYTES: Final = 5_000_000


def read_cup_temperatures(path: str | Path) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Times [s since mixing] and temperatures [K] of a CSV with the columns time_s or time_min, and
    temperature_C or temperature_F; comma or semicolon between them (a decimal comma needs the semicolon).

    Raises ResinError, one sentence, naming the line at fault.
    """
    try:
        if Path(path).stat().st_size > MOST_BYTES:
            raise ResinError(
                f"{path}: over {MOST_BYTES // 1_000_000} MB is no cup test: thin the readings out"
            )
        text = Path(path).read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise ResinError(f"{path}: can't be read as text: save it as CSV") from fault
    return cup_temperatures(text, where=str(path))


def cup_temperatures(text: str, *, where: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The same from the CSV's text; `where` names it in an error."""
    path = where
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise ResinError(f"{path}: is empty: write the readings into it")
    mark = ";" if ";" in lines[0] else ","
    rows = list(csv.reader(lines, delimiter=mark))
    header = [name.strip() for name in rows[0]]
    when = next((name for name in header if name in TIMES), None)
    warm = next((name for name in header if name in TEMPERATURES), None)
    if when is None or warm is None:
        raise ResinError(
            f"{path}: the first line must name time_s or time_min and temperature_C or temperature_F"
        )
    times, temperatures = [], []
    for number, row in enumerate(rows[1:], start=2):
        try:
            time = float(row[header.index(when)].replace(",", "."))
            temperature = float(row[header.index(warm)].replace(",", "."))
        except (ValueError, IndexError) as fault:
            raise ResinError(f"{path}: reading {number} is not two numbers: mend that line") from fault
        if not (math.isfinite(time) and math.isfinite(temperature)):
            raise ResinError(f"{path}: reading {number} is not finite: mend that line")
        times.append(to_si(time, TIMES[when]))
        temperatures.append(to_si(temperature, TEMPERATURES[warm]))
    return tuple(times), tuple(temperatures)
