"""Shut-in air: warmed it pushes, vented it does not."""

import numpy as np
import pytest

from evenwall.errors import InputError
from evenwall.film.air import pressure_when_warmed, push, shut_in

TIME = np.linspace(0.0, 600.0, 121)
FILM = 296.0 + 40.0 * np.exp(-(((TIME - 250.0) / 120.0) ** 2))
MOLD = {"hollow": 9e-4, "wall": 0.06, "opening": 0.01, "start": 296.0}


def test_tight_air_follows_gay_lussac_at_its_own_temperature() -> None:
    air = shut_in(TIME, FILM, **MOLD)
    expected = [pressure_when_warmed(101325.0, 296.0, t) - 101325.0 for t in air.temperature]
    assert air.overpressure == pytest.approx(np.array(expected), rel=1e-3, abs=2.0)
    assert air.load == pytest.approx(push(air.highest, 0.01))
    assert air.temperature == pytest.approx(FILM, abs=2.5)  # a tiny node: seconds behind the film


def test_a_vent_takes_the_pressure_away() -> None:
    tight, pinhole, hole = (shut_in(TIME, FILM, vent=vent, **MOLD) for vent in (0.0, 1e-8, 3e-6))
    assert tight.highest > 5000.0
    assert tight.highest > pinhole.highest > hole.highest
    assert hole.highest < 50.0
    assert np.all(np.isfinite(hole.overpressure))


def test_it_sucks_when_it_cools() -> None:
    cooling = shut_in(TIME, 330.0 - 30.0 * TIME / 600.0, hollow=9e-4, wall=0.06, opening=0.01, start=330.0)
    assert cooling.overpressure[-1] < -5000.0
    assert cooling.highest == pytest.approx(0.0, abs=1.0)


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="absolute"):
        pressure_when_warmed(1e5, -5.0, 20.0)
    with pytest.raises(InputError, match="above 0"):
        shut_in(TIME, FILM, hollow=0.0, wall=0.06, opening=0.01, start=296.0)
