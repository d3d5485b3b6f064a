"""What the bench must know about a casting: its shots, their times, their turning, all in SI.

Times of a shot are seconds after its own mixing started, so that one press starts all of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from itertools import pairwise
from math import isfinite
from typing import Literal

from evenwall.errors import PlanError

ShotKind = Literal["brush", "cleaning", "coat"]


@dataclass(frozen=True, kw_only=True)
class Move:
    """One push of one axis, as it is called out."""

    axis: Literal["frame", "cradle"]
    starts: float  # after the mold was closed [s]
    lasts: float  # [s long]
    turns: float  # positive: forth, negative: back, 0: at rest


@dataclass(frozen=True, kw_only=True)
class Pose:
    """How the mold is propped while a coat stands."""

    frame_angle: float = 0.0  # [rad]
    cradle_angle: float = 0.0  # [rad]
    up: str = ""  # what then looks up, by the maker's names for the sides; empty: not said


@dataclass(frozen=True, kw_only=True)
class ShotPlan:
    """One shot at the bench; times are seconds after its mixing started."""

    name: str  # shown and spoken, e.g. "coat 2"
    kind: ShotKind
    mass_a: float  # part A [kg]
    mass_b: float  # part B, pigment not counted [kg]
    mass_pigment: float = 0.0  # in that B, from the tinted batch [kg]
    mass_filler: float = 0.0  # stirred in [kg]
    stays: float = 0.0  # in cups and on the stick [kg]
    stir_for: float  # stirred until [s]
    pour_at: float  # planned pour [s]
    pour_within: float  # latest pour for an even coat [s]
    pour_last: float  # after this it won't flow over the wall any more [s]
    pour_for: float = 10.0  # pouring takes [s long]
    close_for: float  # from poured to clamped shut [s long]
    closed_within: float  # latest closing [s]
    wet_for: float  # from closed until the whole wall is wetted [s long]
    gel_cup: float  # forecast gel of the witness cup [s]
    gel_film: float  # forecast gel of the film on the wall [s]
    gel_film_late: float  # upper end of the film gel's band: it surely stands [s]
    turn_until: float  # turning may stop: the film sags no more [s]
    next_from: float  # the next coat may be poured from [s]
    next_to: float  # and should be poured until, to bond [s]
    moves: tuple[Move, ...] = ()  # the turning pattern in order of time, begun again until the film stands
    pose: Pose = field(default_factory=Pose)
    cautions: tuple[str, ...] = ()  # keys of words

    @property
    def mass(self) -> float:
        """Mixed mass of the shot [kg]."""
        return self.mass_a + self.mass_b_weighed + self.mass_filler

    @property
    def mass_b_weighed(self) -> float:
        """Part B as it stands on the scale, its pigment in it [kg]."""
        return self.mass_b + self.mass_pigment


@dataclass(frozen=True, kw_only=True)
class Note:
    """Something that the facts changed and that hands should know."""

    say: str  # key of the words
    shot: int | None = None  # the shot it is about, None: the whole casting
    numbers: Mapping[str, int | float | str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class BenchPlan:
    """A whole casting as the bench runs it."""

    name: str  # the casting's name
    shots: tuple[ShotPlan, ...]  # in pouring order: brush, cleaning, coats
    open_after: float  # first opening, after the mixing of the last shot [s]
    room: float  # room temperature that the times hold for [K]
    mold: float  # mold temperature at the first shot [K]
    ratio_tolerance: float = 0.02  # how far B : A may be off, as a fraction
    board_off: bool = False  # the closing board comes off for every shot
    open_for: float = 30.0  # unclamping and opening for the next coat [s long]
    batch_b: float = 0.0  # part B to tint in one go [kg]; 0: nothing is tinted
    batch_pigment: float = 0.0  # pigment into that batch [kg]
    assumed: tuple[str, ...] = ()  # values nobody measured, one sentence each
    notes: tuple[Note, ...] = ()  # what the facts changed


def check(plan: BenchPlan) -> BenchPlan:
    """`plan` itself, when a person can follow it; raises PlanError where its times run backwards."""
    if not plan.shots:
        raise PlanError(f"{plan.name}: 0 shots, at least 1 is needed: plan the coats first")
    for number, shot in enumerate(plan.shots, start=1):
        where = f"{plan.name}, shot {number} ({shot.name})"
        for one in fields(shot):
            value = getattr(shot, one.name)
            if isinstance(value, float) and not (isfinite(value) and value >= 0):
                raise PlanError(
                    f"{where}: {one.name} is {value:g}, it must be a finite number from 0: plan again"
                )
        _ordered(shot, where)
        for move in shot.moves:
            if not move.lasts > 0:
                raise PlanError(
                    f"{where}: a move lasts {move.lasts:g} s, it must be over 0 s: mend the pattern"
                )
    return plan


def _ordered(shot: ShotPlan, where: str) -> None:
    """Raise PlanError where a time of `shot` comes before the one it must follow."""
    order = ("stir_for", "pour_at", "pour_last", "gel_film", "gel_film_late", "next_to")
    for first, then in (*pairwise(order), ("pour_last", "turn_until"), ("turn_until", "next_to")):
        early, late = getattr(shot, first), getattr(shot, then)
        if early > late:
            raise PlanError(
                f"{where}: {then} at {late:.0f} s is before {first} at {early:.0f} s: "
                "use a slower resin, a cooler room or a smaller shot"
            )
