"""The laws against closed forms; the tables of published values are rows of the proof."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erfc

from evenwall.errors import ResinError
from evenwall.resin.chemistry import gel_conversion
from evenwall.resin.cure import CureLaw, rate
from evenwall.resin.heat import lump_run, slab_run
from evenwall.resin.viscosity import ViscosityLaw, viscosity

SECOND = CureLaw(rate_factor=0.01, activation=0.0, order_n=2.0, order_m=0.0, seed=1.0, gel=0.65)
CASTRO = ViscosityLaw(factor=10.3e-8, activation=41.3e3, gel=0.65, exponent_a=1.5, exponent_b=1.0)


def test_an_isothermal_second_order_cup_follows_the_closed_form():
    # da/dt = k (1 - a)^2 from 0: a = k t/(1 + k t), any kinetics textbook
    run = lump_run(SECOND, 0.0, 0.0, 295.0, 0.0, 295.0, 0.0, 2000.0, 2.0, False, 50.0)
    exact = 0.01 * run[:, 0] / (1.0 + 0.01 * run[:, 0])
    assert np.abs(run[:, 1] - exact).max() < 1e-8


def test_a_cup_that_does_not_react_cools_as_newton_says():
    still = SECOND._replace(rate_factor=0.0)
    run = lump_run(still, 0.0, 0.01, 290.0, 0.0, 330.0, 0.0, 500.0, 2.0, False, 5.0)
    assert run[:, 2] == pytest.approx(290.0 + 40.0 * np.exp(-0.01 * run[:, 0]), abs=1e-6)


def test_heat_between_two_like_bodies_follows_the_error_function():
    # Carslaw & Jaeger, section 2.4: two half-spaces of one material meet at 0: T = mean + half erfc
    width, k, c = 1e-4, 0.2, 1.5e6
    cells, hot = 400, 200
    capacity = np.full(cells, c * width)
    link = np.full(cells, k / width)
    temperature = np.where(np.arange(cells) < hot, 310.0, 290.0)
    still = SECOND._replace(rate_factor=0.0)
    _, last = slab_run(still, 0.0, capacity, link, 290.0, hot, 0.0, temperature, 0.0, 60.0, 2.0, 0.1)
    x = (np.arange(cells) - hot + 0.5) * width
    exact = 290.0 + 10.0 * erfc(x / (2.0 * math.sqrt(k / c * 60.0)))
    assert np.abs(last - exact).max() < 0.02


def test_a_slab_keeps_the_heat_it_makes():
    law = SECOND._replace(rate_factor=0.02)
    capacity = np.array([2000.0, 2000.0, 3000.0, 3000.0])
    link = np.array([100.0, 100.0, 100.0, 0.0])
    rows, last = slab_run(
        law, 100.0, capacity, link, 290.0, 2, 0.0, np.full(4, 290.0), 0.0, 5000.0, 2.0, 10.0
    )
    made = 100.0 * 2000.0 * 2.0 * rows[-1, 1]  # both resin cells cure alike: no temperature in the rate
    assert capacity @ (last - 290.0) == pytest.approx(made, rel=1e-6)


@given(st.floats(0.0, 0.64), st.floats(275.0, 400.0), st.floats(1e-4, 0.01), st.floats(0.1, 20.0))
def test_viscosity_rises_with_conversion_and_falls_with_temperature(a, t, more, warmer):
    assert viscosity(a + more, t, CASTRO) > viscosity(a, t, CASTRO)
    assert viscosity(a, t + warmer, CASTRO) < viscosity(a, t, CASTRO)


def test_viscosity_is_without_bound_from_gel_on():
    assert viscosity(0.65, 300.0, CASTRO) == math.inf
    assert viscosity(0.9, 300.0, CASTRO) == math.inf


@given(st.floats(-0.1, 1.2), st.floats(273.0, 450.0))
def test_the_rate_is_never_negative_and_ends_at_full_cure(a, t):
    law = CureLaw(rate_factor=3e6, activation=51e3, order_n=2.0, order_m=0.3, seed=0.05, gel=0.65)
    now = rate(a, t, law)
    assert now >= 0.0
    assert (now > 0.0) == (a < 1.0)


@given(st.floats(2.5, 6.0), st.floats(0.3, 1.0), st.floats(0.05, 1.0))
def test_fewer_branches_and_a_worse_ratio_gel_later(arms, ratio, share):
    full = gel_conversion(arms, 2.0, ratio=ratio, share=1.0)
    assert gel_conversion(arms, 2.0, ratio=ratio, share=share) >= full * (1.0 - 1e-12)
    assert full >= gel_conversion(arms, 2.0) * (1.0 - 1e-12)


def test_two_arms_with_two_never_gel():
    with pytest.raises(ResinError, match="never gel"):
        gel_conversion(2.0, 2.0)
