"""What to weigh into which cup: A, B and pigment to the scale's step, cups, fill lines, labels, leftovers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from evenwall.errors import PlanError
from evenwall.resin.data import Resin, needed

HALF_FULL: Final = 0.5  # a cup is at most so full for hard stirring [-] (common practice, no source)
CLINGS: Final = 0.25e-3  # thickness that stays on wetted cup and stick [m], assumed 0.15 to 0.4 mm
STICK: Final = 20e-4  # wetted area of the stirring stick [m2], assumed
SPARE_BATCH: Final = 0.03  # more tinted part B than is weighed out [-], assumed
BRUSH_COAT: Final = 0.4e-3  # thickness of a brush coat [m] (common practice, no source)
CLEANING_COAT: Final = 0.5e-3  # thickness of a sacrificial first shot [m], assumed
WET_COLOUR: Final = (
    "wet colour is darker than cured: judge the tint on a cured drop (common practice, no source)"
)

FILLED: Final = (
    "dry the filler first and stir it into part B before part A comes in; it is taken to change nothing in the cure, "
    "so time a cup of the filled mix"
)

Kind = Literal["brush", "cleaning", "coat"]


@dataclass(frozen=True, kw_only=True)
class Order:
    """One shot that is wanted on the wall."""

    name: str  # as on the label, e.g. "coat 2"
    kind: Kind = "coat"
    mass: float  # on the wall, without what stays in the cups [kg]
    tinted: bool = True  # its part B comes from the tinted batch


@dataclass(frozen=True, kw_only=True)
class MixingCup:
    """A cup's inside, a cut cone (bottom and top may be equal)."""

    bottom: float  # inner diameter [m]
    top: float  # inner diameter at the rim [m]
    height: float  # [m]

    @property
    def volume(self) -> float:
        """Brimful [m3]."""
        return cone_volume(self, self.height)


@dataclass(frozen=True, kw_only=True)
class ShotAmounts:
    """One shot as it is weighed out."""

    name: str
    kind: Kind
    mass: float  # A, B, pigment and filler together [kg]
    a: float  # part A, a multiple of the scale's step [kg]
    b: float  # part B without pigment [kg]
    b_weighed: float  # part B as it stands on the scale, its pigment in it, a multiple of the step [kg]
    pigment: float  # in that part B [kg]
    filler: float  # stirred in, a multiple of the step [kg]
    stays: float  # in both cups, on the stick and in the witness cup [kg]
    rest: float  # of that in the cup it is poured from [kg]
    a_volume: float  # [m3]
    b_volume: float  # part B with its pigment [m3]
    cup: float  # brimful volume of the cup to take, twice: one to stir, one against streaks [m3]
    ratio_error: float  # worst that rounding and the scale's step do to the ratio, relative [-]


@dataclass(frozen=True, kw_only=True)
class Label:
    """One cup's label."""

    shot: str
    part: Literal["A", "B", "B tinted", "filler"]
    mass: float  # [kg]


@dataclass(frozen=True, kw_only=True)
class WeighOut:
    """Everything that is weighed before the first cup is mixed."""

    shots: tuple[ShotAmounts, ...]
    labels: tuple[Label, ...]  # a cup each, in the order of use
    a: float  # part A altogether [kg]
    b: float  # part B altogether, without pigment [kg]
    pigment: float  # altogether [kg]
    filler: float  # altogether [kg]
    batch_b: float  # part B to tint in one go, spare included [kg]; 0: nothing is tinted
    batch_pigment: float  # pigment into that batch [kg]
    notes: tuple[str, ...]  # one sentence each


def weigh_out(
    resin: Resin,
    orders: Sequence[Order],
    *,
    scale_step: float,
    cups: Sequence[float],
    pigment: float = 0.0,
    witness: float = 0.0,
) -> WeighOut:
    """Weigh out all shots: `scale_step` [kg], brimful volumes of `cups` at hand [m3], `pigment` share of B [-].

    `witness` [kg] of each coat is poured off into a cup to watch; the resin's filler is weighed with the shot.
    Raises PlanError where a shot is too small for the scale or too big for the cups, one sentence.
    Example: 100 g at 1:1 on a 0.1 g scale is 51.9 g of each, 3.8 g of which stay in the cups.
    """
    if not orders:
        raise PlanError("0 shots are to be weighed out, at least 1 is needed: plan the coats first")
    if not 0.0 <= pigment <= 0.3:
        raise PlanError(f"pigment of {100 * pigment:g} % of part B is outside 0 to 30 %: check the share")
    shots = tuple(
        _shot(
            resin,
            order,
            f"shot {number} of {len(orders)}",
            _Scales(scale_step, sorted(cups), pigment, witness),
        )
        for number, order in enumerate(orders, start=1)
    )
    tinted = pigment > 0.0
    labels = []
    for order, shot in zip(orders, shots, strict=True):
        labels.append(Label(shot=shot.name, part="A", mass=shot.a))
        part: Literal["B", "B tinted"] = "B tinted" if tinted and order.tinted else "B"
        labels.append(Label(shot=shot.name, part=part, mass=shot.b_weighed))
        if shot.filler > 0.0:
            labels.append(Label(shot=shot.name, part="filler", mass=shot.filler))
    batch = sum(shot.b for order, shot in zip(orders, shots, strict=True) if tinted and order.tinted)
    batch *= 1.0 + SPARE_BATCH
    return WeighOut(
        shots=shots,
        labels=tuple(labels),
        a=sum(shot.a for shot in shots),
        b=sum(shot.b for shot in shots),
        pigment=sum(shot.pigment for shot in shots),
        filler=sum(shot.filler for shot in shots),
        batch_b=batch,
        batch_pigment=batch * pigment,
        notes=_notes(resin, pigment),
    )


def least_mass(resin: Resin, scale_step: float) -> float:
    """Smallest mix [kg] that a scale of this step [kg] weighs within the resin's ratio tolerance.

    Each reading may be off by half a step, and part B is rounded to a whole one:
    step/2 (1/a + 2/b) <= tolerance.
    """
    ratio, tolerance = resin.ratio, _tolerance(resin)
    return 0.5 * scale_step * (1.0 + ratio) * (1.0 + 2.0 / ratio) / tolerance


def stays_behind(resin: Resin, mass: float, cup: float) -> float:
    """What `mass` [kg] of mix leaves on the wetted walls of two cups of volume `cup` [m3] and on a stick [kg].

    Wetted area times CLINGS; the cup is taken as tall as wide.
    """
    across = math.cbrt(4.0 * cup / math.pi)
    depth = min(across, mass / resin.density / (0.25 * math.pi * across**2))
    wetted = 0.25 * math.pi * across**2 + math.pi * across * depth
    return resin.density * CLINGS * (2.0 * wetted + STICK)


def brush_mass(resin: Resin, area: float, *, thickness: float = BRUSH_COAT) -> float:
    """Resin for a brush coat on `area` [m2], what stays in the brush (as much again, at most 5 g) with it [kg]."""
    on_the_wall = resin.density * area * thickness
    return on_the_wall + min(on_the_wall, 0.005)


def cleaning_mass(resin: Resin, area: float, *, thickness: float = CLEANING_COAT) -> float:
    """Resin for a sacrificial first shot over the whole wall of `area` [m2]: [kg]."""
    return resin.density * area * thickness


def cone_volume(cup: MixingCup, height: float) -> float:
    """Volume [m3] of `cup` up to `height` [m]: pi h (R^2 + R r + r^2)/3."""
    low = 0.5 * cup.bottom
    high = low + 0.5 * (cup.top - cup.bottom) * height / cup.height
    return math.pi * height * (low**2 + low * high + high**2) / 3.0


def fill_line(cup: MixingCup, volume: float) -> float:
    """Height over the bottom [m] to which `volume` [m3] fills `cup`. Raises PlanError where it runs over."""
    if not 0.0 <= volume <= cup.volume:
        raise PlanError(
            f"{1e6 * volume:.0f} mL do not go into a cup of {1e6 * cup.volume:.0f} mL: take a bigger cup"
        )
    low, high = 0.0, cup.height
    for _ in range(60):
        middle = 0.5 * (low + high)
        if cone_volume(cup, middle) < volume:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def fill_lines(cup: MixingCup, shot: ShotAmounts) -> tuple[float, float]:
    """By volume: the lines for part A, and for part B poured on it [m over the bottom]."""
    return fill_line(cup, shot.a_volume), fill_line(cup, shot.a_volume + shot.b_volume)


def volume_error(cup: MixingCup, shot: ShotAmounts, *, reading: float = 0.5e-3) -> float:
    """Relative error of the ratio [-] when both fill lines are met to `reading` [m], half a millimetre unless said."""
    first, second = fill_lines(cup, shot)
    a = cone_volume(cup, first + reading) / shot.a_volume - 1.0
    b = (cone_volume(cup, second + reading) - cone_volume(cup, second)) / shot.b_volume
    return a + (shot.a_volume / shot.b_volume) * a + b


def _tolerance(resin: Resin) -> float:
    return needed(resin.sheet.ratio_tolerance, "ratio tolerance").number


class _Scales(NamedTuple):
    """What there is to weigh with, and what goes in besides."""

    step: float  # [kg]
    cups: Sequence[float]  # brimful volumes, rising [m3]
    pigment: float  # share of part B [-]
    witness: float  # poured off each coat [kg]


def _shot(resin: Resin, order: Order, where: str, scales: _Scales) -> ShotAmounts:
    if not (order.mass > 0.0 and math.isfinite(order.mass)):
        raise PlanError(f"{where} ({order.name}): {1e3 * order.mass:g} g is not above 0 g: plan it again")
    step, share = scales.step, scales.pigment if order.tinted else 0.0
    watched = scales.witness if order.kind == "coat" else 0.0
    wanted = order.mass + watched
    clings, cup = 0.0, 0.0
    for _ in range(4):  # what stays follows from the cup, the cup from the mass
        cup = _cup(where, (wanted + clings) / resin.density, scales.cups)
        clings = stays_behind(resin, wanted + clings, cup)
    liquid = (wanted + clings) * (1.0 - resin.filler_share)
    least = least_mass(resin, step)
    if liquid < least:
        raise PlanError(
            f"{where}: {1e3 * liquid:.3g} g is below the {1e3 * least:.3g} g that this scale can weigh to "
            f"{100 * _tolerance(resin):g} %: mix fewer and larger shots, or take a scale with a finer step"
        )
    a = step * math.ceil(liquid / (1.0 + resin.ratio * (1.0 + share)) / step - 1e-9)
    b_weighed = step * round(a * resin.ratio * (1.0 + share) / step)
    b = b_weighed / (1.0 + share)
    filler = step * round((a + b_weighed) * resin.filler_share / (1.0 - resin.filler_share) / step)
    return ShotAmounts(
        name=order.name,
        kind=order.kind,
        mass=a + b_weighed + filler,
        a=a,
        b=b,
        b_weighed=b_weighed,
        pigment=b * share,
        filler=filler,
        stays=clings + watched,
        rest=0.5 * clings,
        a_volume=a / resin.density_a,
        b_volume=b_weighed / resin.density_b,
        cup=cup,
        ratio_error=abs(b / a / resin.ratio - 1.0) + 0.5 * step * (1.0 / a + 1.0 / b_weighed),
    )


def _cup(where: str, volume: float, cups: Sequence[float]) -> float:
    """The smallest cup that the mix fills to HALF_FULL at most."""
    for cup in cups:
        if volume <= HALF_FULL * cup:
            return cup
    largest = cups[-1] if cups else 0.0
    raise PlanError(
        f"{where}: {1e6 * volume:.0f} mL want a cup of {2e6 * volume:.0f} mL to be at most half full, the largest "
        f"here has {1e6 * largest:.0f} mL: take a bigger cup or plan more shots"
    )


def _notes(resin: Resin, pigment: float) -> tuple[str, ...]:
    """What to know of the weighing, one sentence each."""
    notes = []
    if resin.filler_share > 0.0:
        notes.append(FILLED)
    if pigment > 0.0:
        notes.append(WET_COLOUR)
        if resin.sheet.pigment_into == "A":
            notes.append(
                "the resin's data sheet wants pigment in part A, but this plan tints part B: ask the resin's maker, "
                "or cast untinted and paint"
            )
        in_mix = pigment * resin.ratio / (1.0 + resin.ratio * (1.0 + pigment))
        limit = needed(resin.sheet.pigment_limit, "pigment limit").number
        if in_mix > limit:
            notes.append(
                f"pigment is {100 * in_mix:.1f} % of the mix, over {100 * limit:.1f} %: it may slow the cure and "
                "leave the casting soft, so cast a trial first"
            )
    return tuple(notes)
