"""Threads that step one film together, and what is told of a run on its way."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.errors import StoppedError
from evenwall.film.coat import CoatRun, level_pool, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.operators import build_wall
from evenwall.film.side_by_side import Steppers, threads_for
from evenwall.geometry.remesh import evened
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant

WALL = build_wall(ball(0.04, rounds=3))


def turned(threads: int | None, *, until: float = 0.6) -> CoatRun:
    return run_coat(
        WALL, constant_fluid(viscosity=0.5, density=1050.0, surface_tension=0.035),
        constant(frame_rate=1.0, cradle_rate=0.6), volume=level_pool(WALL, 25e-6, (0.0, 0.0, -1.0)),
        until=until, threads=threads,
    )  # fmt: skip


def test_two_threads_make_the_wall_of_one_to_the_last_bit() -> None:
    one, two = turned(1), turned(2)
    assert one.steps == two.steps > 20
    assert np.array_equal(one.thickness, two.thickness)
    assert one.volume_error < 1e-12


def test_small_walls_are_left_to_one_thread() -> None:
    assert threads_for(1500) == 1
    assert threads_for(100_000) in (1, 2, 4)


def test_a_team_that_is_tried_makes_the_same_wall(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = turned(1)
    monkeypatch.setattr("evenwall.film.coat.threads_for", lambda nodes: 2)
    assert np.array_equal(turned(None).thickness, alone.thickness)
    assert len(Steppers(2, tried=True).teams) == 2


def test_evening_out_tells_how_far_it_is_and_stops_when_asked() -> None:
    shares: list[float] = []
    surface = ball(0.04, rounds=3)
    evened(surface, nodes=300, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    asked: list[float] = []
    with pytest.raises(StoppedError):
        evened(surface, nodes=300, progress=asked.append, stop=lambda: bool(asked))
    assert len(asked) == 1


def test_a_stop_is_asked_after_every_pass_over_the_edges() -> None:
    asked: list[int] = []
    evened(ball(0.04, rounds=3), nodes=300, stop=lambda: asked.append(1) is not None)
    assert len(asked) >= 8 * 8 + 3 * 2  # sweeps of 7 passes and a projection, then fits
