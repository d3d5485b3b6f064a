"""Cup against film: either sign, and the directions that the trade knows."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenwall.errors import ResinError
from evenwall.files.resin_file import load_resin
from evenwall.resin.curves import EVERYDAY, curves, like
from evenwall.resin.data import Filler
from evenwall.resin.filler import filled
from evenwall.resin.heat import Backing, bare_rubber, coated
from evenwall.resin.history import History
from evenwall.resin.strength import in_the_hand, pushed_shell
from evenwall.resin.today import Mix, Witness, coat_story, run_down, stage
from evenwall.resin.viscosity import ViscosityLaw
from evenwall.resin.witness import Cup, cup_history, gel_time, heat_balance

SHOP = 295.15
GRADUAL = load_resin("museum-gradual")
MIX = Mix(mass=0.1, temperature=SHOP, air_temperature=SHOP, poured_at=55.0, coat=1e-3)


@pytest.fixture(scope="module")
def resin():
    return GRADUAL


def minutes(resin, mix=MIX, mold=SHOP):
    return coat_story(resin, mix, bare_rubber(Backing(), mold), end=14400.0).minutes


def test_the_film_lag_has_either_sign(resin):
    cool = minutes(resin)
    warm = minutes(resin, replace(MIX, rest=0.003), mold=310.15)
    assert cool.gel_mixed < cool.gel_rest < cool.gel_film
    assert cool.film_lag > 0.0
    assert warm.film_lag < 0.0
    assert warm.film_lag == warm.gel_film - warm.gel_rest


def test_the_witness_is_the_cup_that_the_maker_has(resin):
    rest = minutes(resin, MIX)
    poured = minutes(resin, replace(MIX, witness=Witness(kind="poured", mass=0.03)))
    thin = minutes(resin, replace(MIX, witness=Witness(kind="thin", mass=0.005)))
    assert rest.gel_witness == rest.gel_rest
    assert rest.gel_mixed < poured.gel_witness < thin.gel_witness
    assert rest.gel_film == poured.gel_film == thin.gel_film


def test_a_film_of_steady_thickness_runs_as_nusselt_says():
    # Nusselt (1916): mean speed rho g h^2 / (3 mu); 1 mm of a liquid of 1 Pa s and 1000 kg/m3: 3.27 mm a second
    time = np.linspace(0.0, 100.0, 11)
    law = ViscosityLaw(factor=1.0, activation=0.0, gel=0.65, exponent_a=1.0, exponent_b=0.0)
    film = History(time=time, conversion=np.zeros(11), temperature=np.full(11, SHOP), law=law)
    liquid = replace(GRADUAL, density=1000.0)
    assert run_down(liquid, film, 1e-3, after=40.0) == pytest.approx(60.0 * 3.27e-3, rel=1e-3)
    assert run_down(liquid, film, 1e-3, after=35.0) == pytest.approx(65.0 * 3.27e-3, rel=1e-3)
    assert run_down(liquid, film, 1e-3, after=100.0) == 0.0


def test_a_film_that_gelled_before_the_cup_runs_no_more(resin):
    assert minutes(resin, MIX).runs_on > 0.0
    assert minutes(resin, replace(MIX, poured_at=55.0, rest=0.003), mold=310.15).runs_on == 0.0


@settings(max_examples=20, deadline=None)
@given(st.floats(283.0, 310.0), st.floats(0.5, 8.0), st.floats(0.3e-3, 3e-3), st.floats(1.1, 3.0))
def test_a_warmer_mold_or_a_thicker_film_never_gels_later(mold, more, coat, thicker):
    resin = load_resin("museum-sudden")
    thin = minutes(resin, replace(MIX, coat=coat), mold=mold)
    assert minutes(resin, replace(MIX, coat=coat), mold=mold + more).gel_film <= thin.gel_film + 1e-6
    # a cold mold only cools, a hot one warms a thin film faster than a thick one
    if mold <= SHOP:
        assert minutes(resin, replace(MIX, coat=thicker * coat), mold=mold).gel_film <= thin.gel_film + 1e-6


def test_each_coat_warms_the_mold_for_the_next(resin):
    behind = bare_rubber(Backing(), SHOP)
    gels = []
    for _ in range(3):
        first = coat_story(resin, MIX, behind).minutes
        gels.append(first.gel_film)
        film = coat_story(resin, MIX, behind, end=first.next_from).film
        behind = coated(behind, resin, MIX.coat, film.temperature)
    assert gels[0] > gels[1] > gels[2]
    assert len(behind.temperature) == len(behind.capacity) == len(bare_rubber(Backing(), SHOP).width) + 3


def test_the_film_gels_at_the_same_time_with_finer_cells(resin):
    # the film is one cell; the rubber's own cells must not matter: twice as thick a rubber, another grid
    one = coat_story(resin, MIX, bare_rubber(Backing(thickness=0.030), SHOP)).minutes.gel_film
    two = coat_story(resin, MIX, bare_rubber(Backing(thickness=0.041), SHOP)).minutes.gel_film
    assert one == pytest.approx(two, rel=2e-3)


@given(st.floats(0.001, 2.0), st.floats(1.01, 5.0))
def test_a_bigger_mass_keeps_its_heat_longer(mass, larger):
    small, large = heat_balance(GRADUAL, Cup(), mass), heat_balance(GRADUAL, Cup(), mass * larger)
    assert large.cooling < small.cooling
    assert large.heating > small.heating


def test_an_empty_cup_is_refused(resin):
    with pytest.raises(ResinError, match="more than 0 g"):
        cup_history(resin, Cup(), 0.0, temperature=SHOP, air_temperature=SHOP)


def test_stages_come_in_order(resin):
    story = coat_story(resin, MIX, bare_rubber(Backing(), SHOP), end=14400.0)
    film = story.film.slowest
    fresh = film.viscosity[0]
    seen = [stage(resin, a, v, fresh) for a, v in zip(film.conversion, film.viscosity, strict=True)]
    order = ["fresh", "flowing", "slow", "stringing", "gelled", "firm", "ready"]
    assert [name for k, name in enumerate(seen) if k == 0 or seen[k - 1] != name] == order


def test_the_plot_has_cup_and_film_on_one_time_axis(resin):
    picture = curves(resin, coat_story(resin, MIX, bare_rubber(Backing(), SHOP)))
    assert [line.name for line in picture.lines] == ["cup", "witness", "film"]
    for line in picture.lines:
        assert line.viscosity.shape == line.temperature.shape == line.conversion.shape == picture.time.shape
    cup, _, film = picture.lines
    assert np.isfinite(cup.viscosity).all()
    assert np.isnan(film.conversion[0])  # nothing is on the wall before the pour
    assert [mark.time for mark in picture.marks] == sorted(mark.time for mark in picture.marks)
    assert like(0.09) == "olive oil"


def test_everyday_liquids_come_in_the_order_that_charts_give():
    # general charts of viscosity: water < 5 mPa s < olive oil < 200 < engine oil < glycerol, castor oil < 2000
    chart = dict(EVERYDAY)
    assert chart["water"] < 0.005 < chart["olive oil"] < 0.2 < chart["engine oil"] < chart["glycerol"] < 2.0


def test_a_filler_thickens_cools_and_slows_the_cup(resin):
    chalk = filled(resin, Filler(name="chalk", density=2700.0, price=1.0), 0.4)
    assert chalk.viscosity_band[0] < chalk.viscosity_factor < chalk.viscosity_band[1]
    assert chalk.resin.density > resin.density
    assert chalk.price == pytest.approx(0.6 * 18.0 + 0.4 * 1.0)
    plain = cup_history(resin, Cup(), 0.1, temperature=SHOP, air_temperature=SHOP)
    slow = cup_history(chalk.resin, Cup(), 0.1, temperature=SHOP, air_temperature=SHOP)
    assert slow.peak < plain.peak
    assert gel_time(resin, slow) > gel_time(resin, plain)
    assert filled(resin, Filler(name="none", density=2700.0), 0.0).viscosity_factor == 1.0
    with pytest.raises(ResinError, match="still pours"):
        filled(resin, Filler(name="chalk", density=2700.0), 0.8)


def test_a_point_push_is_reissners(resin):
    got = pushed_shell(10.0, area=1e-10, radius=0.05, thickness=2e-3, modulus=1e9, poisson=0.3)
    point = math.sqrt(3.0 * (1.0 - 0.09)) / 4.0 * 10.0 * 0.05 / (1e9 * 4e-6)
    assert got.deflection == pytest.approx(point, rel=1e-4)


def test_a_thicker_wall_is_stiffer_and_a_thin_one_is_called_so(resin):
    thick, thin = (in_the_hand(resin, least_wall=wall, radius=0.06) for wall in (3e-3, 0.5e-3))
    assert thick.push.deflection < thin.push.deflection
    assert thick.verdict.startswith("it stands a thumb")
    assert thin.verdict.startswith("a thumb may push through")
    assert thick.assumed == ("tensile modulus", "tensile strength")  # the demo's are typical, not a sheet's


def test_a_wall_too_thick_for_the_formula_is_said_to_be(resin):
    assert not in_the_hand(resin, least_wall=3e-3, radius=0.02).push.shallow
