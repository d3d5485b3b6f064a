"""A cup test: constants from the gel time of a stated mass, and its temperatures, by least squares.

The unknowns are the rate, the activation energy, the reaction heat and the order of the autocatalysis, each
as its logarithm (the order as itself). What the data sheet says of them counts as one more reading, as wide
as its band, so that one gel time moves only what it can tell (Tarantola, Inverse Problem Theory (2005),
section 3.2, from memory: least squares with prior information).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from evenwall.errors import ResinError
from evenwall.resin.cure import GAS_CONSTANT
from evenwall.resin.data import CupTest, Resin
from evenwall.resin.history import History, time_of_conversion
from evenwall.resin.witness import Cup, cup_history

Floats = NDArray[np.float64]

REFERENCE: Final = 296.15  # temperature that the rate is told at [K]
GEL_ERROR: Final = 0.04  # of a gel time read off a clock [-], assumed
LEAST_GEL_ERROR: Final = 4.0  # [s], assumed
TEMPERATURE_ERROR: Final = 2.0  # of a thermometer in the cup [K], assumed
RATE_WIDTH: Final = 0.25  # of the data sheet's rate [log], assumed
ACTIVATION_WIDTH: Final = 0.15  # [log], the published 1.5 to 2.5 per 10 K
HEAT_WIDTH: Final = 0.25  # [log], assumed
ORDER_WIDTH: Final = 0.25  # [-], assumed
FAR: Final = 4.0  # a constant may move so many widths


@dataclass(frozen=True, kw_only=True)
class Learnt:
    """One constant before and after the tests."""

    name: (
        str  # constant: rate factor at REFERENCE [1/s], activation [J/mol], reaction heat [J/kg], order m [-]
    )
    before: float  # from the data sheet
    after: float
    low: float  # two thirds of what it may be lie between low and high
    high: float


@dataclass(frozen=True, kw_only=True)
class CupFit:
    """A resin corrected by cup tests."""

    resin: Resin
    learnt: tuple[Learnt, ...]
    gel_before: tuple[float, ...]  # model's gel of each test before [s]
    gel_after: tuple[float, ...]  # and after [s]
    misfit: float  # root mean square of the readings' residuals in units of their errors [-]
    warnings: tuple[str, ...]


def fit_cups(start: Resin, tests: tuple[CupTest, ...]) -> CupFit:
    """`start`, the resin of its data sheet, as `tests` correct it. Raises ResinError for impossible tests."""
    if not tests:
        raise ResinError("0 cup tests were given, at least 1 is needed: time a cup to gel")
    for number, test in enumerate(tests, start=1):
        _check(test, number)
    widths = np.array([RATE_WIDTH, ACTIVATION_WIDTH, HEAT_WIDTH, ORDER_WIDTH])

    def residuals(x: Floats) -> Floats:
        resin = _with(start, x)
        return np.concatenate([_readings(resin, test) for test in tests] + [x / widths])

    found = least_squares(
        residuals, np.zeros(4), bounds=(-FAR * widths, FAR * widths), diff_step=1e-3, x_scale=widths
    )
    spread = np.sqrt(np.diag(np.linalg.inv(found.jac.T @ found.jac)))
    resin = _with(start, found.x)
    readings = found.fun[: len(found.fun) - 4]
    misfit = float(np.sqrt(np.mean(readings**2)))
    warnings = []
    if misfit > 2.0:
        warnings.append(
            f"the tests lie {misfit:.1f} times their errors from the model, over 2: "
            "check masses, temperatures and when the clock was started"
        )
    if np.any(np.abs(found.x) > 2.0 * widths):
        warnings.append(
            "the tests disagree with the data sheet far beyond its band: check the jugs' age and ratio"
        )
    return CupFit(
        resin=resin,
        learnt=_learnt(start, found.x, spread),
        gel_before=tuple(_gel(start, test) for test in tests),
        gel_after=tuple(_gel(resin, test) for test in tests),
        misfit=misfit,
        warnings=tuple(warnings),
    )


def _check(test: CupTest, number: int) -> None:
    if test.gel is None and not test.times:
        raise ResinError(f"cup test {number}: neither a gel time nor temperatures: give one of them")
    if test.gel is not None and not 10.0 <= test.gel <= 28800.0:
        raise ResinError(
            f"cup test {number}: gel after {test.gel:g} s is outside 10 s to 8 h: check the unit"
        )
    if len(test.times) != len(test.temperatures):
        raise ResinError(
            f"cup test {number}: {len(test.times)} times but {len(test.temperatures)} temperatures: "
            "give one for each"
        )
    if any(then <= first for first, then in zip(test.times[:-1], test.times[1:], strict=True)):
        raise ResinError(f"cup test {number}: the times do not rise: put the readings in order")
    if test.times and not (test.times[0] >= 0.0 and all(250.0 < t < 600.0 for t in test.temperatures)):
        raise ResinError(
            f"cup test {number}: a reading is before mixing or outside -23 to 327 C: check units"
        )
    if not 0.001 <= test.mass <= 5.0:
        raise ResinError(f"cup test {number}: {1e3 * test.mass:g} g is outside 1 g to 5 kg: check the unit")


def _with(start: Resin, x: Floats) -> Resin:
    """The resin with its constants moved by `x` (4,): log rate at REFERENCE, log activation, log heat, order."""
    cure = start.cure
    activation = cure.activation * math.exp(x[1])
    keep = (activation - cure.activation) / (GAS_CONSTANT * REFERENCE)
    law = cure._replace(
        rate_factor=cure.rate_factor * math.exp(x[0] + keep),
        activation=activation,
        order_m=max(0.0, float(cure.order_m + x[3])),
    )
    return replace(start, cure=law, reaction_heat=start.reaction_heat * math.exp(x[2]))


def _readings(resin: Resin, test: CupTest) -> Floats:
    """Residuals of one test in units of their errors."""
    longest = max([*test.times[-1:], test.gel or 0.0])
    went = _went(resin, test, end=4.0 * longest)
    parts = []
    if test.gel is not None:
        gel = min(time_of_conversion(went, resin.cure.gel), 4.0 * longest)
        parts.append([(gel - test.gel) / max(GEL_ERROR * test.gel, LEAST_GEL_ERROR)])
    if test.times:
        model = np.interp(test.times, went.time, went.temperature)
        # many readings of one cup share its faults: together they weigh no more than eight do
        error = TEMPERATURE_ERROR * math.sqrt(max(1.0, len(test.times) / 8.0))
        parts.append(list((model - np.array(test.temperatures)) / error))
    return np.concatenate(parts)


def _gel(resin: Resin, test: CupTest) -> float:
    return time_of_conversion(_went(resin, test, end=28800.0, till=resin.cure.gel), resin.cure.gel)


def _went(resin: Resin, test: CupTest, *, end: float, till: float = 2.0) -> History:
    """The tested cup in the model until `end` [s], or past the conversion `till` [-]."""
    return cup_history(
        resin,
        Cup() if test.diameter is None else Cup(diameter=test.diameter),
        test.mass,
        temperature=test.temperature,
        air_temperature=test.air_temperature,
        end=end,
        stop_conversion=till,
    )


def _learnt(start: Resin, x: Floats, spread: Floats) -> tuple[Learnt, ...]:
    rate = start.cure.rate_factor * math.exp(-start.cure.activation / (GAS_CONSTANT * REFERENCE))
    scales = (
        ("rate factor", rate),
        ("activation", start.cure.activation),
        ("reaction heat", start.reaction_heat),
    )
    rows = [
        Learnt(
            name=name,
            before=base,
            after=base * math.exp(float(x[k])),
            low=base * math.exp(x[k] - spread[k]),
            high=base * math.exp(x[k] + spread[k]),
        )
        for k, (name, base) in enumerate(scales)
    ]
    order = float(start.cure.order_m + x[3])
    rows.append(
        Learnt(
            name="order m",
            before=start.cure.order_m,
            after=max(0.0, order),
            low=max(0.0, order - float(spread[3])),
            high=order + float(spread[3]),
        )
    )
    return tuple(rows)
