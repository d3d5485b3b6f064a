"""The minutes of a sequence of coats, the time budget and its levers."""

from dataclasses import replace
from itertools import pairwise

import pytest

from evenwall.errors import PlanError
from evenwall.files.resin_file import load_resin, load_sheet
from evenwall.plan.cautions import cautions_today
from evenwall.plan.clock import LONGEST_WAIT, Coat, Conditions, clock
from evenwall.plan.sureness import (
    film_band,
    lag_sentence,
    look_up_sentence,
    stop_with_cup_sentence,
    sureness,
)
from evenwall.plan.timebudget import Handling, in_time, levers, time_budget
from evenwall.resin.calibrate import calibrate
from evenwall.resin.data import CupTest
from evenwall.resin.heat import Backing, bare_rubber
from evenwall.resin.spread import Band
from evenwall.resin.today import Mix
from evenwall.resin.witness import Cup, cup_history, gel_time

SHOP = 295.15
TODAY = Conditions(resin=SHOP, mold=SHOP, air=SHOP)
HANDS = Handling(stir=45.0, pour=20.0, close=30.0, wet=60.0)
COATS = tuple(Coat(name=f"coat {k}", mass=0.08, thickness=1e-3) for k in (1, 2, 3))
MIX = Mix(mass=0.08, temperature=SHOP, air_temperature=SHOP, poured_at=55.0, coat=1e-3)


@pytest.fixture(scope="module", params=["museum-gradual", "museum-sudden"])
def resin(request):
    return load_resin(request.param)


def test_each_coat_is_poured_on_a_firm_one_and_in_time(resin):
    done = clock(resin, COATS, TODAY, HANDS, rubber=Backing()).coats
    for earlier, later in pairwise(done):
        poured = later.mixed_at + HANDS.stir
        assert poured >= earlier.mixed_at + earlier.minutes.next_from - 1e-6
        assert later.wall_temperature > earlier.wall_temperature - 0.5
    for coat in done:
        assert coat.budget.spare >= 0.0
        assert coat.budget.wetted <= coat.budget.film_limit
        assert coat.minutes.gel_film < coat.minutes.next_from < coat.minutes.next_to
        assert coat.minutes.next_from < coat.minutes.demold


def test_a_hot_mold_puts_the_next_coat_off_till_it_can_level():
    resin = load_resin("museum-sudden")
    slow = replace(HANDS, wet=90.0)
    done = clock(resin, COATS[:2], TODAY, slow, rubber=Backing(thickness=0.003)).coats
    assert done[1].waits_for == "the wall has cooled enough for it to level"
    assert done[1].mixed_at + slow.stir > done[0].minutes.next_from


def test_what_can_not_be_poured_in_time_is_refused_with_a_lever_that_works(resin):
    slow = replace(HANDS, close=0.0, wet=0.0)
    limit = time_budget(resin, MIX, bare_rubber(Backing(), SHOP), slow).cup_limit
    late = replace(slow, stir=limit - slow.pour + 5.0)
    with pytest.raises(PlanError) as fault:
        in_time(resin, MIX, bare_rubber(Backing(), SHOP), late, name="coat 1")
    said = str(fault.value)
    assert said.startswith("coat 1: it is poured after ")
    found = levers(resin, MIX, bare_rubber(Backing(), SHOP), late)
    for lever in found:
        assert (f"{lever.words} ({lever.gain:.0f} s more)" in said) is lever.enough
    cooler = next(lever for lever in found if "cool" in lever.words)
    assert cooler.enough
    celsius = float(cooler.words.split(" to ")[1].split()[0])
    cold = replace(MIX, temperature=celsius + 273.15)
    assert time_budget(resin, cold, bare_rubber(Backing(), SHOP), late).spare >= -0.5


def test_a_slower_resin_always_helps_and_a_lever_that_does_not_is_not_named(resin):
    behind = bare_rubber(Backing(), SHOP)
    late = replace(HANDS, stir=400.0)
    found = levers(resin, MIX, behind, late)
    assert found[-1].enough
    assert found[-1].words.startswith("take a resin with ")
    assert all(lever.gain > 0.0 for lever in found)
    spare = time_budget(resin, MIX, behind, HANDS).spare
    for lever in levers(resin, MIX, behind, HANDS):  # one that fits is told what there is to gain too
        assert lever.enough is (spare + lever.gain >= 0.0)


def test_a_second_pair_of_hands_helps_where_closing_is_slow(resin):
    behind = bare_rubber(Backing(), SHOP)
    limit = time_budget(resin, MIX, behind, HANDS).film_limit
    late = replace(HANDS, close=limit - HANDS.wet - HANDS.stir - HANDS.pour + 10.0)
    first = levers(resin, MIX, behind, late)[0]
    assert "second pair of hands" in first.words
    assert first.enough
    assert first.gain == pytest.approx(0.5 * late.close)


def day_cautions(**changes):
    today, resin = replace(TODAY, **changes), load_resin("museum-gradual")
    return cautions_today(
        resin, today, clock(resin, COATS, today, HANDS, rubber=Backing(), strict=False), wall=3e-3
    )


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"resin": 286.15}, "The jugs are at 13 C, under 18 C"),
        ({"humidity": 0.7}, "70% humidity, over 50%"),
    ],
)
def test_cold_jugs_and_damp_air_are_told_at_the_scale(changes, sentence):
    assert any(sentence in caution.text for caution in day_cautions(**changes) if caution.step == "weigh")
    assert not any(sentence.split(",")[1] in caution.text for caution in day_cautions())


def test_a_warm_mold_and_a_thin_wall_are_told_where_they_matter():
    said = {caution.step: caution.text for caution in day_cautions()}
    assert "warm from the coats before at coat 2 (" in said["mix"]
    assert "warps if it is opened early" in said["open"]


def test_a_shop_too_cold_to_turn_by_hand_is_told_at_the_frame():
    """Over 5 min of working time is tiresome, over 20 unrealistic (common practice, no source)."""
    cold = {caution.step: caution.text for caution in day_cautions(resin=268.15, mold=268.15, air=268.15)}
    assert "coat 1 stays workable for" in cold["turn"]
    assert "warm the shop" in cold["turn"]
    assert all(caution.step != "turn" for caution in day_cautions())


def test_the_next_coat_waits_no_longer_than_it_must():
    resin = load_resin("museum-sudden")
    slow = replace(HANDS, wet=90.0)
    done = clock(resin, COATS[:2], TODAY, slow, rubber=Backing(thickness=0.003)).coats
    assert 0.0 <= done[1].budget.spare < 1.0
    assert done[1].mixed_at < done[0].minutes.next_from + LONGEST_WAIT


def test_brush_coat_and_cleaning_shot_have_times_of_their_own(resin):
    brush = Coat(name="brush coat", kind="brush", mass=0.012, thickness=0.4e-3, cup=1e-4, rest=0.001)
    cleaning = Coat(name="cleaning shot", kind="cleaning", mass=0.04, thickness=0.5e-3)
    hands = replace(HANDS, brush=60.0)
    when = clock(resin, (cleaning, brush, *COATS), TODAY, hands, rubber=Backing())
    alone = clock(resin, COATS, TODAY, hands, rubber=Backing())
    assert [coat.minutes for coat in when.coats] == [coat.minutes for coat in alone.coats]
    assert [coat.mixed_at for coat in when.coats] == pytest.approx([coat.mixed_at for coat in alone.coats])
    assert when.coats[0].waits_for == "the brush coat has gelled"
    first, second = when.before
    assert first.mixed_at + first.minutes.demold == pytest.approx(second.mixed_at)
    assert second.mixed_at + second.minutes.gel_film == pytest.approx(hands.stir)  # coat 1's pour
    assert second.budget.poured == hands.stir + hands.brush
    with pytest.raises(PlanError, match="brush coat: it is brushed after"):
        clock(resin, (brush, *COATS), TODAY, replace(hands, brush=900.0), rubber=Backing())


def test_opening_waits_for_the_thinnest_place_of_the_last_coat(resin):
    even = clock(resin, COATS, TODAY, HANDS, rubber=Backing())
    thin = [*COATS[:-1], replace(COATS[-1], thinnest=0.5)]
    uneven = clock(resin, thin, TODAY, HANDS, rubber=Backing())
    assert uneven.coats == even.coats
    assert uneven.open_after >= even.open_after


def test_bands_hold_the_middle_and_name_what_to_look_up():
    sure = sureness(load_resin("museum-sudden"), COATS[:2], TODAY, HANDS, rubber=Backing())
    for coat in sure.coats:
        for band in (coat.gel_film, coat.gel_witness, coat.film_lag, coat.next_from):
            assert band.low < band.middle < band.high
    assert sure.open_after.low < sure.open_after.middle < sure.open_after.high
    assert sure.look_up is not None
    assert not sure.look_up.known
    assert "is assumed and moves the film's gel by up to" in look_up_sentence(sure.look_up)
    assert sure.look_up.size == max(row.size for row in sure.hangs_on if not row.known)
    assert 0.0 < film_band(sure, cup_seen=True) < film_band(sure)


def test_a_few_grams_spread_thin_make_the_film_surer_than_a_full_cup():
    sheet = load_sheet("museum-gradual")
    before = calibrate(sheet)

    def tested(mass, wide):
        cup = cup_history(before, Cup(diameter=wide), mass, temperature=SHOP, air_temperature=SHOP)
        gel = gel_time(before, cup)
        test = CupTest(mass=mass, temperature=SHOP, air_temperature=SHOP, gel=gel, diameter=wide)
        return calibrate(replace(sheet, cup_tests=(test,)))

    widths = []
    for resin in (tested(0.08, 0.07), tested(0.005, 0.06)):
        sure = sureness(resin, COATS[:1], TODAY, HANDS, rubber=Backing())
        band = sure.coats[0].gel_film
        widths.append(band.high - band.low)
        assert any(row.name == "cup_test_1" for row in sure.hangs_on)
    assert widths[1] < 0.7 * widths[0]


@pytest.mark.parametrize(
    ("band", "said"),
    [
        ((60.0, 180.0, 300.0), "turn 3 min more after the cup has gelled (1 to 5 min)"),
        ((-240.0, -120.0, -60.0), "the film is ahead of the cup by 2 min (1 to 4 min)"),
        ((-120.0, 60.0, 180.0), "perhaps 2 min before it, perhaps 3 min after"),
    ],
)
def test_the_lag_is_told_as_an_instruction(band, said):
    low, middle, high = band
    assert said in lag_sentence(Band(low=low, middle=middle, high=high))


def test_stopping_with_the_cup_is_judged_by_the_lag(resin):
    first = clock(resin, COATS[:1], TODAY, HANDS, rubber=Backing()).coats[0].minutes
    late = replace(first, film_lag=200.0)
    assert "runs 12 mm down" in stop_with_cup_sentence(replace(late, runs_on=0.012))
    assert "does no harm" in stop_with_cup_sentence(replace(late, runs_on=1e-3))
    assert "is safe" in stop_with_cup_sentence(replace(first, film_lag=-30.0, runs_on=0.0))


def test_no_coats_are_refused(resin):
    with pytest.raises(PlanError, match="0 coats"):
        clock(resin, (), TODAY, HANDS, rubber=Backing())
