"""Is the wall stiff and strong enough in the hand: a thumb's push on a thin patch of a shell, and the weight."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from scipy.special import keip, kerp

from evenwall.errors import ResinError
from evenwall.resin.data import Resin, needed

THUMB: Final = 50.0  # a firm push of a thumb [N], assumed
PATCH: Final = 25e-6  # the patch it pushes on [m2]
POISSON: Final = 0.38  # of rigid urethane [-], from memory
THIN: Final = 10.0  # least radius over thickness that the formula holds for [-]


@dataclass(frozen=True, kw_only=True)
class PushedShell:
    """What a push does to a thin shell."""

    deflection: float  # under the push [m]
    stress: float  # largest, on the inner face [Pa]
    shallow: bool  # radius over thickness is at least THIN, so the formula holds


@dataclass(frozen=True, kw_only=True)
class InTheHand:
    """The thinnest patch under a thumb, judged against the resin."""

    push: PushedShell
    deflection_share: float  # deflection over wall thickness [-]
    stress_share: float  # stress over tensile strength [-]
    verdict: str  # one sentence
    assumed: tuple[str, ...]  # values that were not the sheet's own


def pushed_shell(
    force: float, *, area: float, radius: float, thickness: float, modulus: float, poisson: float = POISSON
) -> PushedShell:
    """A shallow spherical shell pushed by `force` [N] spread over a round patch of `area` [m2].

    `radius` of the middle surface [m], `thickness` [m], `modulus` [Pa], `poisson` [-]. With l = sqrt(R t) /
    (12 (1 - poisson^2))^(1/4), m = patch radius / l and q = force/area, at the middle of the patch:
    w = q R^2 / (E t) (1 + m ker'(m)),  M = (1 + poisson)/2 q l^2 m kei'(m),  N = -E t w / (2 R),
    stress = 6 M / t^2 + N / t on the inner face. E. Reissner, J. Math. Phys. 25 (1946) 80 and 279;
    tabulated by Roark (partial sphere, load on a small circle). Small deflections, far from edges,
    R/t at least 10. Example: ker' -> -1/m gives the point load's w = sqrt(3 (1 - poisson^2))/4 P R / (E t^2).
    """
    if not min(force, area, radius, thickness, modulus) > 0.0:
        raise ResinError(
            "force, patch, radius, wall and modulus of a pushed shell must be above 0: check them"
        )
    stiff = 12.0 * (1.0 - poisson**2)
    length = math.sqrt(radius * thickness) / stiff**0.25
    m = math.sqrt(area / math.pi) / length
    pressure = force / area
    deflection = pressure * radius**2 / (modulus * thickness) * (1.0 + m * float(kerp(m)))
    moment = 0.5 * (1.0 + poisson) * pressure * length**2 * m * float(keip(m))
    membrane = -modulus * deflection / (2.0 * radius)
    return PushedShell(
        deflection=deflection,
        stress=6.0 * moment / thickness**2 + membrane,
        shallow=radius / thickness >= THIN,
    )


def in_the_hand(resin: Resin, *, least_wall: float, radius: float, force: float = THUMB) -> InTheHand:
    """A thumb's push on the least 25 mm2 patch of a wall; `least_wall`, local outer `radius` [m].

    For a flat or saddle-shaped place give half the piece's size there: a flat plate of that span is stiffer
    than a sphere of that radius is only near its edge, so this is a rough judgement, and said to be one.
    """
    modulus = needed(resin.sheet.tensile_modulus, "tensile modulus")
    strength = needed(resin.sheet.tensile_strength, "tensile strength")
    push = pushed_shell(force, area=PATCH, radius=radius, thickness=least_wall, modulus=modulus.number)
    gives = push.deflection / least_wall
    strained = push.stress / strength.number
    if strained > 1.0:
        verdict = "a thumb may push through its thinnest place: one more coat"
    elif strained > 0.5 or gives > 0.5:
        verdict = "it gives under a thumb at its thinnest place: handle it with care, or one more coat"
    else:
        verdict = "it stands a thumb everywhere"
    if not push.shallow:
        verdict += "; the wall is thick for its curvature there, so the formula only says that it is strong"
    own = ("data sheet", "measured")
    pairs = (("tensile modulus", modulus), ("tensile strength", strength))
    return InTheHand(
        push=push,
        deflection_share=gives,
        stress_share=strained,
        verdict=verdict,
        assumed=tuple(name for name, value in pairs if value.pedigree not in own),
    )
