"""Steps of cure and heat between those of the flow: how long they may be, and what they leave open."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.film.coat import run_coat
from evenwall.film.operators import build_wall
from evenwall.film.stepping import longest_cure
from evenwall.film.steps import FLOW, PLACES, RIPENS, USUAL
from evenwall.proof.film import PLAIN, curing
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import still

WALL = build_wall(ball(0.05, rounds=3), curved=False)


def drained(every: float) -> float:
    """Mean thickness [m] under the top of a ball of a film that gelled there; steps of flow stay as they are."""
    control = USUAL._replace(cure_every=every, cure_gain=1.0, longest=0.05)
    full = np.full(len(WALL.area), 2e-3)
    run = run_coat(WALL, curing(), still(), volume=full, until=600.0, terms=PLAIN, control=control)
    return float(run.thickness[WALL.x[:, 2] > 0.04].mean())


def test_what_steps_of_cure_leave_open_falls_with_their_square() -> None:
    """Strang, SIAM J. Numer. Anal. 5 (1968) 506 (from memory): second order by each other's middle."""
    exact = drained(0.05)
    long, short = (abs(drained(every) / exact - 1.0) for every in (2.0, 1.0))
    assert long < 1e-3  # with the viscosity of its beginning each would leave 1.4e-2
    assert short < 0.4 * long


def clock(*, flow: float, ripens: float) -> np.ndarray:
    found = np.zeros(PLACES)
    found[FLOW], found[RIPENS] = flow, ripens
    return found


def test_a_pool_takes_its_heat_no_further_than_it_may() -> None:
    assert longest_cure(USUAL, clock(flow=50.0, ripens=0.0), 1.0, False) == pytest.approx(USUAL.cure_turn)
    assert longest_cure(USUAL, clock(flow=50.0, ripens=0.0), 0.0, False) == USUAL.cure_every
    assert longest_cure(USUAL, clock(flow=50.0, ripens=0.0), 1.0, True) == pytest.approx(USUAL.cure_turn)


def test_where_next_to_nothing_flows_cure_takes_longer_steps_until_it_runs_away() -> None:
    quiet = USUAL.cure_every * USUAL.cure_quiet
    assert longest_cure(USUAL, clock(flow=0.01, ripens=1e-3), 1.0, True) == pytest.approx(quiet)
    assert longest_cure(USUAL, clock(flow=0.01, ripens=0.1), 1.0, True) == pytest.approx(
        USUAL.cure_gain / 0.1
    )
