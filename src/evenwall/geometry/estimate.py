"""Area and volume of a piece without a scan, each with how sure it is, and their combination."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq

from evenwall.errors import InputError
from evenwall.geometry.loft import loft, stand_in
from evenwall.geometry.solid import area, volume
from evenwall.geometry.surface import Surface, bounds

# standard errors, relative; assumed, no source
WEIGHED: Final = 0.03  # volume from a weight and a density: bubbles, shrink, the density itself
DUNKED: Final = 0.03  # volume of the water that was displaced
CALIPERED: Final = 0.10  # mean wall from a few readings, beside their own scatter
COATED: Final = 0.30  # area from shots alone
TAPED: Final = 0.06  # sections are taken as round
BOXED: Final = 0.25  # volume from a bounding solid
COAT: Final = 1.0e-3  # a coat [m] (common practice, no source)
SLENDER: Final = 1.5  # where nothing tells the slenderness
BALL: Final = float(np.cbrt(36.0 * np.pi))  # A / V^(2/3) of a ball, the least there is
#: share of the box that is filled, and the sphericity (area of a ball of that volume over the area, Wadell 1935, J.
#: Geology 43, 250-280) from its lowest to its highest usual value; each bound is a closed formula or a published value
SHAPES: Final = {
    "ball": (0.52, 0.93, 1.00),  # prolate spheroid 2:1; ball
    "rounded": (0.52, 0.47, 0.93),  # disc ten times as wide as high; prolate spheroid 2:1
    # rounded sand, 0.86, under ribs of 60 degrees, which double a wall; sand, average (Kunii & Levenspiel 1991,
    # Fluidization Engineering, table 3.1, from memory)
    "carved": (0.45, 0.43, 0.75),
    "block": (0.90, 0.68, 0.81),  # block 1:1:4; cube
    "flat": (0.64, 0.47, 0.76),  # discs ten and three times as wide as high
    "long": (0.64, 0.58, 0.83),  # rods ten and two times as long as wide
    "branched": (0.25, 0.32, 0.56),  # six rods 10:1 together; two rods 5:1 together
}


@dataclass(frozen=True, kw_only=True)
class Known:
    """A value and its standard error, in the same unit."""

    value: float
    error: float


@dataclass(frozen=True, kw_only=True)
class Clue:
    """What one reading tells of the piece; None where it tells nothing."""

    way: str  # e.g. "solid casting"
    area: Known | None = None  # [m2]
    volume: Known | None = None  # [m3]
    slenderness: float | None = None  # greatest over least extent []
    shape: str = "rounded"  # class of its shape, one of SHAPES
    surface: Surface | None = None  # closed, where the reading gives one [m]


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """Area and volume from all clues, and a closed surface that has them."""

    area: Known  # [m2]
    volume: Known  # [m3]
    area_shares: tuple[float, ...]  # how much each clue counts for the area, 0 to 1; the shape the rest
    volume_shares: tuple[float, ...]  # how much each counts for the volume, 0 to 1
    surface: Surface  # of this area and volume
    disagreement: float  # greatest distance of a clue from the result over its error []


def solid_casting(mass: float, density: float, *, shape: str = "rounded") -> Clue:
    """From the weight [kg] of a solid casting of known density [kg/m3]: V = m / rho."""
    return Clue(way="solid casting", volume=_about(mass / density, WEIGHED), shape=shape)


def dunked(displaced: float, *, shape: str = "rounded") -> Clue:
    """From the volume [m3] of water that the sealed master displaces."""
    return Clue(way="dunked", volume=_about(displaced, DUNKED), shape=shape)


def hollow_casting(mass: float, density: float, walls: Sequence[float], *, shape: str = "rounded") -> Clue:
    """From a hollow casting's weight [kg], its density [kg/m3] and caliper readings of its wall [m].

    Steiner's formula for the resin under an area A: m / rho = A t - t^2 sqrt(4 pi A) + 4/3 pi t^3, exact on a
    ball of any size; the mean wall's error is CALIPERED and the readings' scatter over the root of their number.
    """
    if not walls:
        raise InputError("0 caliper readings: give the wall of the hollow casting at a few places")
    wall = float(np.mean(walls))
    resin = mass / density
    least = 4.0 * np.pi * wall**2  # a ball without a hollow
    if resin <= 4.0 / 3.0 * np.pi * wall**3:
        raise InputError(
            f"a casting of {1e3 * mass:.0f} g with {1e3 * wall:.1f} mm of wall would have no hollow: check both"
        )

    def missing(a: float) -> float:
        return a * wall - wall**2 * float(np.sqrt(4.0 * np.pi * a)) + 4.0 / 3.0 * np.pi * wall**3 - resin

    found = float(brentq(missing, least, 4.0 * (resin / wall + least)))
    scatter = float(np.std(walls, ddof=1)) / wall / np.sqrt(len(walls)) if len(walls) > 1 else 0.2
    return Clue(
        way="hollow casting",
        area=_about(found, float(np.hypot(np.hypot(CALIPERED, scatter), WEIGHED))),
        shape=shape,
    )


def earlier_shots(mass: float, density: float, count: int, *, shape: str = "rounded") -> Clue:
    """From `count` shots of `mass` [kg] each, taken as coats of COAT: A = m / (rho COAT), a rough guess."""
    error = float(np.hypot(COATED, 0.5 * COATED / np.sqrt(count)))
    return Clue(way="shots", area=_about(mass / (density * COAT), error), shape=shape)


def taped(heights: Sequence[float], girths: Sequence[float]) -> Clue:
    """From girths [m] at rising heights [m], lofted with round sections."""
    surface = loft(heights, girths)
    return Clue(
        way="tape",
        area=_about(area(surface), TAPED),
        volume=_about(volume(surface), TAPED),
        slenderness=_slenderness(np.ptp(bounds(surface), axis=0)),
        surface=surface,
    )


def boxed(size: Sequence[float], *, shape: str = "rounded") -> Clue:
    """From length, width and height [m] and the class of the shape."""
    if len(size) != 3 or min(size) <= 0.0:
        raise InputError("the bounding solid needs length, width and height above 0: give all three")
    filled, _, _ = _shape(shape)
    return Clue(
        way="box",
        volume=_about(filled * float(np.prod(size)), BOXED),
        slenderness=_slenderness(np.asarray(size)),
        shape=shape,
    )


def combined(values: Sequence[Known]) -> tuple[Known, tuple[float, ...]]:
    """Weighted mean of independent values and each one's share: w = 1/s^2, x = sum w x / sum w, s = (sum w)^-1/2.

    Source: Bevington & Robinson 2003, Data Reduction and Error Analysis, equations 4.17 and 4.19.
    Example: 10 +- 1 and 13 +- 2 give 10.6 +- 0.894, in shares of 0.8 and 0.2.
    """
    weight = np.array([known.error**-2.0 for known in values])
    mean = float(weight @ [known.value for known in values] / weight.sum())
    return Known(value=mean, error=float(weight.sum() ** -0.5)), tuple((weight / weight.sum()).tolist())


def estimate(clues: Sequence[Clue]) -> Estimate:
    """Area and volume from all clues by their errors; what none tells follows from the other by the shape.

    Where both are told but no surface, the area that the volume lets expect counts as one more clue.
    Raises InputError without clues, or where no shape has the area and volume.
    """
    if not clues:
        raise InputError("nothing is known of the piece: give a mesh or at least 1 reading")
    found_area, area_shares = _over(clues, [clue.area for clue in clues])
    found_volume, volume_shares = _over(clues, [clue.volume for clue in clues])
    named = [clue.shape for clue in clues if clue.shape != "rounded"]
    _, factor, spread = _shape(named[0] if named else "rounded")
    if found_volume is not None and not any(clue.surface for clue in clues):
        relative = float(np.hypot(spread, 2.0 / 3.0 * found_volume.error / found_volume.value))
        expected = _about(factor * found_volume.value ** (2 / 3), relative)
        if found_area is None:
            found_area, area_shares = expected, volume_shares
        else:
            found_area, (own, _) = combined([found_area, expected])
            area_shares = tuple(own * share for share in area_shares)
    elif found_volume is None and found_area is not None:
        relative = 1.5 * float(np.hypot(spread, found_area.error / found_area.value))
        found_volume, volume_shares = _about((found_area.value / factor) ** 1.5, relative), area_shares
    assert found_area is not None
    assert found_volume is not None
    pairs = [(c.area, found_area) for c in clues] + [(c.volume, found_volume) for c in clues]
    return Estimate(
        area=found_area,
        volume=found_volume,
        area_shares=area_shares,
        volume_shares=volume_shares,
        surface=_surface(clues, found_area.value, found_volume.value),
        disagreement=max(abs(one.value - all_.value) / one.error for one, all_ in pairs if one is not None),
    )


def _surface(clues: Sequence[Clue], wanted_area: float, wanted_volume: float) -> Surface:
    """The loft itself where it is the only clue, else a stand-in."""
    if len(clues) == 1 and clues[0].surface is not None:
        return clues[0].surface
    known = [clue.slenderness for clue in clues if clue.slenderness is not None]
    return stand_in(wanted_area, wanted_volume, slenderness=float(np.mean(known)) if known else SLENDER)


def _over(clues: Sequence[Clue], values: list[Known | None]) -> tuple[Known | None, tuple[float, ...]]:
    """The weighted mean of the values that are known, and the share of each clue."""
    known = [(k, value) for k, value in enumerate(values) if value is not None]
    shares = [0.0] * len(clues)
    if not known:
        return None, tuple(shares)
    mean, weights = combined([value for _, value in known])
    for (k, _), weight in zip(known, weights, strict=True):
        shares[k] = weight
    return mean, tuple(shares)


def _about(value: float, relative: float) -> Known:
    if not (np.isfinite(value) and value > 0.0):
        raise InputError(f"a reading gives a size of {value}: weights, densities and lengths must be above 0")
    return Known(value=value, error=relative * value)


def sphericity_of_rods(length: float, count: int = 1) -> float:
    """Wadell's sphericity of `count` equal cylinders together, each `length` diameters long [].

    psi = BALL V^(2/3) / A with V = count pi length/4 and A = count pi (length + 1/2) at a diameter of 1.
    Example: one of length 1 has (2/3)^(1/3) = 0.874; flat ones are discs, 1/10 has 0.47.
    """
    space, wall = count * np.pi * length / 4.0, count * np.pi * (length + 0.5)
    return float(BALL * np.cbrt(space**2) / wall)


def _shape(name: str) -> tuple[float, float, float]:
    """Share of the box, A / V^(2/3) in the middle of the class, and its relative standard error.

    The class reaches two errors to both sides: BALL/high to BALL/low.
    """
    if name not in SHAPES:
        raise InputError(f"shape {name!r} is not known: use one of {', '.join(SHAPES)}")
    filled, low, high = SHAPES[name]
    return filled, BALL / float(np.sqrt(low * high)), float(np.log(high / low)) / 4.0


def _slenderness(extents: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(extents.max() / extents.min())
