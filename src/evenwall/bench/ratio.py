"""Whether what was weighed is in ratio, and what brings it back: checked from the scale's readings.

Out of ratio part of the mix finds nothing to react with: the casting stays softer, tacky and weaker (common practice,
no source); how much is allowed is the data sheet's. Only adding the other part mends it, before they are mixed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evenwall.bench.casting import BenchPlan
from evenwall.bench.events import Event
from evenwall.bench.facts import latest_of


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """A shot that was weighed out of ratio, and nobody said to use it anyway."""

    shot: int
    more: Literal["a", "b"]  # the part there is too much of
    off_share: float  # B : A over the wanted ratio, less one
    mass_kg: float  # of the other part to add [kg]


def doubts(plan: BenchPlan, counted: Sequence[Event]) -> tuple[Doubt, ...]:
    """The shots whose readings are off the ratio by more than the plan's tolerance."""
    return tuple(doubt for place in range(len(plan.shots)) if (doubt := _doubt(plan, counted, place)))


def _doubt(plan: BenchPlan, counted: Sequence[Event], place: int) -> Doubt | None:
    a, b = (latest_of(counted, f"mass.{place}.{part}") for part in ("a", "b"))
    if a is None or b is None or not a.value or not b.value:
        return None
    shot = plan.shots[place]
    wanted = shot.mass_b_weighed / shot.mass_a
    off = b.value / a.value / wanted - 1.0
    used = latest_of(counted, f"ratio.{place}", kind="tick")
    if abs(off) <= plan.ratio_tolerance or (used is not None and used.at >= max(a.at, b.at)):
        return None
    if off > 0:
        return Doubt(shot=place, more="b", off_share=off, mass_kg=b.value / wanted - a.value)
    return Doubt(shot=place, more="a", off_share=off, mass_kg=a.value * wanted - b.value)
