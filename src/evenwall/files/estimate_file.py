"""The readings of job.toml, where there is no scan, as a piece in SI."""

from __future__ import annotations

from typing import Final

from evenwall.errors import InputError, JobError
from evenwall.files.job_schema import JobFile, Reading
from evenwall.geometry.estimate import (
    Clue,
    Estimate,
    boxed,
    dunked,
    earlier_shots,
    estimate,
    hollow_casting,
    solid_casting,
    taped,
)
from evenwall.job import Piece
from evenwall.units import from_si, to_si

SURE: Final = 2.0  # a band reaches so many standard errors to both sides
WATER_WARNING: Final = (
    "don't fill the mold with water to find its volume: damp foams urethane, cut molds leak, and soft rubber "
    "bulges under the weight"
)
NEEDED: Final = {
    "solid casting": ("weight_g", "density_g_mL"),
    "hollow casting": ("weight_g", "density_g_mL", "wall_mm"),
    "shots": ("weight_g", "density_g_mL"),
    "dunked": ("volume_mL",),
    "tape": ("heights_mm", "girths_mm"),
    "box": ("size_mm",),
}

LISTS: Final = ("wall_mm", "heights_mm", "girths_mm", "size_mm")


def estimate_of(file: JobFile) -> Estimate:
    """What the job's readings tell of the piece; JobError where one lacks a key."""
    return estimate([_clue(k, reading) for k, reading in enumerate(file.piece.readings, 1)])


def estimated_piece(file: JobFile) -> Piece:
    """The piece of the job's readings: a stand-in whose bands reach SURE standard errors to both sides."""
    found = estimate_of(file)
    return Piece(
        surface=found.surface,
        stand_in=True,
        area_band=band(found.area.value, found.area.error),
        volume_band=band(found.volume.value, found.volume.error),
        sides={name: (x, y, z) for name, (x, y, z) in file.piece.sides.items()},
    )


def typed_reading(text: str) -> dict[str, object]:
    """A reading typed as "way: key=value key=1,2,3", as a table of job.toml; InputError where it is none."""
    way, colon, rest = text.partition(":")
    if not colon or way.strip() not in NEEDED:
        raise InputError(f"reading {text!r} begins with no way and colon: use one of {', '.join(NEEDED)}")
    table: dict[str, object] = {"way": way.strip()}
    for word in rest.split():
        key, equals, value = word.partition("=")
        if not equals or not value:
            raise InputError(f"reading {text!r}: {word!r} has no =: write it as weight_g=150")
        table[key] = [_number(one) for one in value.split(",")] if key in LISTS else _number(value)
    return table


def _number(text: str) -> float | int | str:
    """A number where it is one; a word stays, to be checked with the whole job."""
    try:
        value = float(text)
    except ValueError:
        return text
    return int(value) if value.is_integer() else value


def band(value: float, error: float) -> tuple[float, float]:
    """From SURE errors below to SURE errors above, never below a tenth of the value; in the value's unit."""
    return max(0.1 * value, value - SURE * error), value + SURE * error


def estimate_as_json(file: JobFile) -> dict[str, object]:
    """The answer of `evenwall estimate --json`, SI."""
    found = estimate_of(file)
    return {
        "area_m2": found.area.value,
        "area_band_m2": band(found.area.value, found.area.error),
        "volume_m3": found.volume.value,
        "volume_band_m3": band(found.volume.value, found.volume.error),
        "readings": [
            {"way": reading.way, "area_share": a, "volume_share": v}
            for reading, a, v in zip(file.piece.readings, found.area_shares, found.volume_shares, strict=True)
        ],
        "disagreement": found.disagreement,
        "warnings": warnings_of(found),
    }


def estimate_lines(file: JobFile) -> list[str]:
    """The answer of `evenwall estimate` for people."""
    found = estimate_of(file)
    area = [from_si(x, "cm2") for x in (found.area.value, *band(found.area.value, found.area.error))]
    space = [from_si(x, "mL") for x in (found.volume.value, *band(found.volume.value, found.volume.error))]
    lines = [
        f"area {area[0]:.0f} cm2 (likely {area[1]:.0f} to {area[2]:.0f}), "
        f"volume {space[0]:.0f} mL (likely {space[1]:.0f} to {space[2]:.0f})"
    ]
    for reading, a, v in zip(file.piece.readings, found.area_shares, found.volume_shares, strict=True):
        lines.append(f"- {reading.way}: counts {100 * a:.0f} % for the area, {100 * v:.0f} % for the volume")
    return lines + [f"! {line}" for line in warnings_of(found)]


def warnings_of(found: Estimate) -> list[str]:
    """What the user should know beside the numbers, a sentence each."""
    said = [WATER_WARNING]
    if found.disagreement > 3.0:
        said.insert(
            0,
            f"one reading lies {found.disagreement:.1f} standard errors from the rest: measure it again",
        )
    return said


def _clue(number: int, reading: Reading) -> Clue:
    for key in NEEDED[reading.way]:
        if not getattr(reading, key):
            raise JobError(f"piece.readings {number} ({reading.way}): {key} is missing: add it")
    shape = reading.shape
    weight = to_si(reading.weight_g or 0.0, "g")
    density = to_si(reading.density_g_mL or 0.0, "g/mL")
    match reading.way:
        case "solid casting":
            return solid_casting(weight, density, shape=shape)
        case "hollow casting":
            return hollow_casting(weight, density, _lengths(reading.wall_mm), shape=shape)
        case "shots":
            return earlier_shots(weight, density, reading.shots, shape=shape)
        case "dunked":
            return dunked(to_si(reading.volume_mL or 0.0, "mL"), shape=shape)
        case "tape":
            return taped(_lengths(reading.heights_mm), _lengths(reading.girths_mm))
        case "box":
            return boxed(_lengths(reading.size_mm), shape=shape)


def _lengths(values: list[float]) -> list[float]:
    return [to_si(value, "mm") for value in values]
