from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest

from evenwall.bench.casting import BenchPlan, Move, ShotPlan
from evenwall.bench.events import Event

Press = Callable[..., Event]


def a_shot(name: str, kind: str = "coat", **changes: object) -> ShotPlan:
    """A shot with the times of the trade: 2.5 minutes to work, about 8 of turning (common practice, no source)."""
    values: dict[str, object] = {
        "name": name,
        "kind": kind,
        "mass_a": 0.040,
        "mass_b": 0.036,
        "mass_pigment": 0.001,
        "stir_for": 45.0,
        "pour_at": 50.0,
        "pour_within": 90.0,
        "pour_last": 140.0,
        "pour_for": 15.0,
        "close_for": 25.0,
        "closed_within": 130.0,
        "wet_for": 20.0,
        "gel_cup": 240.0,
        "gel_film": 420.0,
        "gel_film_late": 480.0,
        "turn_until": 450.0,
        "next_from": 700.0,
        "next_to": 1500.0,
        "moves": (
            Move(axis="frame", starts=0.0, lasts=8.0, turns=1.25),
            Move(axis="frame", starts=8.0, lasts=6.0, turns=-1.0),
            Move(axis="cradle", starts=0.0, lasts=5.0, turns=0.5),
            Move(axis="cradle", starts=5.0, lasts=9.0, turns=-0.75),
        ),
    }
    return ShotPlan(**(values | changes))  # type: ignore[arg-type]


@pytest.fixture
def plan() -> BenchPlan:
    return BenchPlan(
        name="ammonite 1 of 12",
        shots=(
            a_shot("brush coat", "brush", pour_within=150.0, closed_within=180.0, mass_pigment=0.0, moves=()),
            a_shot("cleaning shot", "cleaning"),
            a_shot("coat 1"),
            a_shot("coat 2"),
        ),
        open_after=3600.0,
        room=295.0,
        mold=295.0,
        board_off=True,
    )


@pytest.fixture
def press() -> Press:
    """Make events: press("mixed", at, shot=0)."""
    count = itertools.count()

    def make(kind: str, at: float, **more: object) -> Event:
        values: dict[str, object] = {"id": f"e{next(count):04d}", "kind": kind, "at": at, "stamped": at}
        return Event(**(values | more))  # type: ignore[arg-type]

    return make
