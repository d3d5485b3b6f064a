"""Numbers as people type and read them here: comma or point, fractions, metric or US units, chosen by the job."""

from __future__ import annotations

import re
from typing import Final

from evenwall.errors import InputError
from evenwall.units import from_si, to_si

#: ending of a key in job.toml -> the unit that it is written in ("" for a bare number), longest first
ENDINGS: Final = {
    "_W_mK": "W/(m K)",
    "_J_kgK": "J/(kg K)",
    "_per_kg": "per kg",
    "_percent": "%",
    "_g_mL": "g/mL",
    "_cm2": "cm2",
    "_rpm": "rpm",
    "_min": "min",
    "_mm": "mm",
    "_mL": "mL",
    "_g": "g",
    "_C": "C",
    "_s": "s",
}
US: Final = {"mm": "in", "mm2": "in2", "cm2": "in2", "mL": "fl oz", "g": "oz", "kg": "lb", "C": "F"}
NAMES: Final = {
    "C": "°C",
    "F": "°F",
    "cm2": "cm²",
    "in2": "in²",
    "mm2": "mm²",
    "mL": "mL",
    "rpm": "turns/min",
}
DIGITS: Final = {"mm": 2, "in": 3, "g": 1, "oz": 2, "mL": 0, "fl oz": 1, "C": 1, "F": 0, "cm2": 0, "in2": 1}
SEVERAL: Final = re.compile(r"[;\s]+")


def unit_of(key: str) -> str:
    """The unit that the key's value is written in; "" where it is a bare number or a word."""
    last = next((part for part in reversed(key.split(".")) if not part.isdigit()), "")
    return next((unit for ending, unit in ENDINGS.items() if last.endswith(ending)), "")


def shown_unit(unit: str, system: str) -> str:
    """The unit to show where the job wants `system` (metric or us)."""
    return US.get(unit, unit) if system == "us" else unit


def unit_name(unit: str) -> str:
    """The unit's name on the page."""
    return NAMES.get(unit, unit)


def converted(value: float, unit: str, into: str) -> float:
    """`value` of one workshop unit in another."""
    return value if unit == into else from_si(to_si(value, unit), into)


def number(text: str) -> float:
    """A number as typed: 3.5, 3,5, 1 1/8, -2; InputError where it is none or can be read two ways."""
    bare = text.strip().replace("\u202f", " ").replace("\xa0", " ").replace("−", "-")
    if fraction := re.fullmatch(r"(-?)(?:(\d+)[ -])?(\d+)/(\d+)", bare):
        sign, whole, top, bottom = fraction.groups()
        if int(bottom) == 0:
            raise InputError(f"{text.strip()} divides by zero: write another number")
        return (-1.0 if sign else 1.0) * (int(whole or 0) + int(top) / int(bottom))
    bare = bare.replace(" ", "")
    if re.fullmatch(r"-?[1-9]\d{0,2},\d{3}", bare):
        raise InputError(
            f"{bare} can be read two ways: write {bare.replace(',', '')} or {bare.replace(',', '.')}"
        )
    if "," in bare and "." in bare:
        cents = max(bare.rfind(","), bare.rfind("."))
        bare = re.sub(r"[.,]", "", bare[:cents]) + "." + bare[cents + 1 :]
    bare = bare.replace(",", ".")
    if not re.fullmatch(r"-?(\d+\.?\d*|\.\d+)(e-?\d+)?", bare):
        raise InputError(f"“{text.strip()}” is not a number: write one such as 2.5 or 2,5")
    return float(bare)


def numbers(text: str) -> list[float]:
    """Several numbers, with blanks or semicolons between them."""
    return [number(part) for part in SEVERAL.split(text.strip()) if part]


def plain(value: float, digits: int = 6) -> str:
    """A number without needless zeros."""
    text = f"{value:.{digits}g}"
    return f"{float(text):.0f}" if "e" in text and abs(value) >= 1 else text


def amount(value: float, unit: str, system: str, *, digits: int | None = None) -> str:
    """An SI value with its unit, e.g. amount(0.003, "mm", "us") == "0.118 in"."""
    into = shown_unit(unit, system)
    places = DIGITS.get(into, 1) if digits is None or into != unit else digits
    return f"{from_si(value, into):.{places}f} {unit_name(into)}"


_NUMBER: Final = r"(?<![\w.,])(\d+(?:\.\d+)?)"
_SAID: Final = re.compile(
    rf"{_NUMBER}(?:( (?:to|by|and|or) |/| x ){_NUMBER})? (mm2|mm|cm2|mL|kg|g|°?C)(?![\w/])"
)


def sentence(text: str, system: str) -> str:
    """A sentence of the rooms, which speak metric, with its amounts in the job's units and a large first letter."""
    if system == "us":
        text = _SAID.sub(_turned, text)
    return text[:1].upper() + text[1:]


def _turned(found: re.Match[str]) -> str:
    first, between, second, name = found.groups()
    unit = name.removeprefix("°")
    into = shown_unit(unit, "us")
    if into == unit:
        return found.group(0)
    numbers_ = [_like(one, converted(float(one), unit, into)) for one in (first, second) if one]
    return f"{(between or '').join(numbers_)} {unit_name(into)}"


def _like(before: str, value: float) -> str:
    """The value as closely as the number it came from was written, two digits at least."""
    digits = max(2, len(before.replace(".", "").lstrip("0")))
    return plain(value, digits)


def span(early: float, late: float) -> str:
    """From one time to another, e.g. 3:05 to 4:10 min."""
    first, second = clock(early), clock(late)
    unit = " min"
    return f"{first.removesuffix(unit) if second.endswith(unit) else first} to {second}"


def clock(seconds: float) -> str:
    """Minutes and seconds, e.g. 3:05 min."""
    if seconds != seconds or seconds == float("inf"):
        return "never"
    whole = round(seconds)
    return (
        f"{whole // 60}:{whole % 60:02d} min"
        if whole < 5400
        else f"{whole // 3600} h {whole % 3600 // 60:02d}"
    )
