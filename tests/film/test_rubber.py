"""Heat behind the wall: conserved, indifferent to the step, carried from coat to coat."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from evenwall.errors import InputError
from evenwall.film.rubber import cell_widths, heat_content, new_column, rest, rubber_step, under_coat
from evenwall.film.state import Rubber
from evenwall.resin.cure import CureLaw

LAW = CureLaw(rate_factor=5.0e5, activation=5.0e4, order_n=1.3, order_m=0.5, seed=0.05, gel=0.65)
THICKNESS = np.array([0.0, 2.0e-4, 1.0e-3, 5.0e-3])
CAPACITY = 2.0e6 * THICKNESS


@given(thickness=st.floats(1e-5, 0.2))
def test_cells_fill_the_rubber_and_begin_fine(thickness: float) -> None:
    widths = cell_widths(thickness)
    assert widths.sum() == pytest.approx(thickness, rel=1e-12)
    assert widths[0] <= 1.0001e-4
    assert np.all(widths[1:] <= 1.5 * widths[:-1])


def test_no_rubber_is_refused_in_a_sentence() -> None:
    with pytest.raises(InputError, match="above 0"):
        cell_widths(0.0)


@settings(max_examples=30, deadline=None)
@given(dt=st.floats(1e-3, 100.0), hot=st.floats(290.0, 420.0))
def test_film_gains_what_the_rubber_loses(dt: float, hot: float) -> None:
    column = new_column(Rubber(), 4, temperature=300.0)
    film = np.full(4, hot)
    area = np.array([1.0, 2.0, 3.0, 4.0]) * 1e-5
    before = heat_content(column, area, reference=0.0) + np.sum(area * CAPACITY * film)
    flux = rubber_step(*column, film, THICKNESS, CAPACITY, 0.2, dt, 300.0, 0.0)
    wet = CAPACITY > 0
    film[wet] += dt * flux[wet] / CAPACITY[wet]
    after = heat_content(column, area, reference=0.0) + np.sum(area * CAPACITY * film)
    assert after == pytest.approx(before, rel=1e-13)
    assert flux[0] == 0.0
    assert np.all((film[wet] - 300.0) * (hot - 300.0) >= 0)  # never cooler than the rubber, at any step


def test_all_heat_leaves_through_the_outside() -> None:
    column = new_column(Rubber(), 1, temperature=310.0)
    lost = 0.0
    start = heat_content(column, np.ones(1), reference=300.0)
    none = np.zeros(1)
    for _ in range(400):
        face_before = column.temperature[0, -1]
        rubber_step(*column, none, none, none, 0.2, 60.0, 300.0, 8.0)
        outward = (column.temperature[0, -1] - 300.0) / (column.resistance[0, -1] + 1 / 8.0)
        assert column.temperature[0, -1] <= face_before
        lost += outward * 60.0
    assert lost + heat_content(column, np.ones(1), reference=300.0) == pytest.approx(start, rel=1e-10)
    assert column.temperature.max() == pytest.approx(300.0, abs=0.1)


def test_halved_steps_change_little() -> None:
    def face(dt: float) -> float:
        column = new_column(Rubber(), 4, temperature=296.0)
        film = np.full(4, 330.0)
        for _ in range(round(20.0 / dt)):
            flux = rubber_step(*column, film, THICKNESS, CAPACITY, 0.2, dt, 296.0, 8.0)
            film[1:] += dt * flux[1:] / CAPACITY[1:]
        return float(film[2])

    coarse, fine, finest = face(0.5), face(0.25), face(0.125)
    assert abs(coarse - fine) < 0.15
    assert (coarse - fine) / (fine - finest) == pytest.approx(2.0, abs=0.3)  # first order in time


def test_insulated_film_rises_by_the_adiabatic_rise() -> None:
    """Reaction heat over heat capacity: 200 kJ/kg over 1.8 kJ/(kg K) is 111 K (energy balance)."""
    nearly_none = Rubber(conductivity=1e-9)
    column = new_column(nearly_none, 4, temperature=296.0)
    _, film, conversion = rest(
        column,
        np.full(4, 296.0),
        np.zeros(4),
        thickness=THICKNESS,
        capacity=CAPACITY,
        conductivity=0.2,
        adiabatic_rise=200e3 / 1800.0,
        law=LAW,
        duration=4000.0,
        outside_temperature=296.0,
    )
    assert np.all(conversion[1:] > 0.99)
    rise = (film[1:] - 296.0) / (conversion[1:] * 200e3 / 1800.0)
    assert rise == pytest.approx(np.ones(3), rel=1e-3)
    assert conversion[0] == 0.0


def test_a_coat_laid_on_the_rubber_keeps_the_heat() -> None:
    column = new_column(Rubber(), 4, temperature=300.0)
    column.temperature[:, 0] = 320.0
    old_area = np.array([1.0, 2.0, 3.0, 4.0]) * 1e-5
    new_area = old_area * np.array([1.0, 0.9, 0.8, 1.1])
    film = np.array([300.0, 330.0, 340.0, 350.0])
    before = heat_content(column, old_area, reference=273.0) + np.sum(old_area * CAPACITY * (film - 273.0))
    covered = under_coat(
        column,
        temperature=film,
        thickness=THICKNESS,
        capacity=CAPACITY,
        conductivity=0.2,
        transfer=sparse.csr_array(np.diag(old_area / new_area)),
    )
    after = heat_content(covered, new_area, reference=273.0)
    assert after == pytest.approx(before, rel=1e-7)
    assert covered.temperature.shape[1] == column.temperature.shape[1] + 2


def test_a_second_coat_meets_warm_rubber_and_a_long_wait_cools_it() -> None:
    def face_after(wait: float) -> float:
        column = new_column(Rubber(), 1, temperature=296.0)
        column, _, _ = rest(
            column,
            np.array([310.0]),
            np.array([0.65]),
            thickness=np.array([1e-3]),
            capacity=np.array([2e3]),
            conductivity=0.2,
            adiabatic_rise=110.0,
            law=LAW,
            duration=wait,
            outside_temperature=296.0,
        )
        return float(column.temperature[0, 0])

    soon, later, much_later = face_after(30.0), face_after(600.0), face_after(20000.0)
    assert soon > later > much_later
    assert later > 297.0
    assert much_later == pytest.approx(296.0, abs=0.5)
