"""The minutes of a sequence of coats, the time budget and its levers."""

from dataclasses import replace
from itertools import pairwise

import pytest

from evenwall.errors import PlanError
from evenwall.files.resin_file import load_resin, load_sheet
from evenwall.plan.clock import (
    Coat,
    Conditions,
    clock,
    lag_sentence,
    look_up_sentence,
    stop_with_cup_sentence,
    sureness,
)
from evenwall.plan.timebudget import Handling, in_time, levers, time_budget
from evenwall.resin.heat import Backing, bare_rubber
from evenwall.resin.spread import Band
from evenwall.resin.today import Mix

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
    cooler = next(
        lever for lever in levers(resin, MIX, bare_rubber(Backing(), SHOP), late) if "cool" in lever
    )
    assert cooler in said
    celsius = float(cooler.split(" to ")[1].split()[0])
    cold = replace(MIX, temperature=celsius + 273.15)
    assert time_budget(resin, cold, bare_rubber(Backing(), SHOP), late).spare >= 0.0


def test_a_second_pair_of_hands_helps_where_closing_is_slow(resin):
    behind = bare_rubber(Backing(), SHOP)
    limit = time_budget(resin, MIX, behind, HANDS).film_limit
    late = replace(HANDS, close=limit - HANDS.wet - HANDS.stir - HANDS.pour + 10.0)
    assert any("second pair of hands" in lever for lever in levers(resin, MIX, behind, late))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"resin": 286.15}, "the jugs are at 13 C, under 18 C"),
        ({"humidity": 0.7}, "70 % humidity, over 50 %"),
    ],
)
def test_cold_jugs_and_damp_air_are_told(changes, sentence):
    when = clock(load_resin("museum-gradual"), COATS[:1], replace(TODAY, **changes), HANDS, rubber=Backing())
    assert any(sentence in note for note in when.notes)


def test_a_good_day_has_no_such_notes():
    notes = clock(load_resin("museum-gradual"), COATS[:1], TODAY, HANDS, rubber=Backing()).notes
    assert not any("jugs" in note or "humidity" in note for note in notes)


def test_bands_hold_the_middle_and_name_what_to_look_up():
    sure = sureness(load_sheet("museum-sudden"), COATS[:2], TODAY, HANDS, rubber=Backing())
    for coat in sure.coats:
        for band in (coat.gel_film, coat.gel_witness, coat.film_lag, coat.next_from):
            assert band.low < band.middle < band.high
    assert sure.open_after.low < sure.open_after.middle < sure.open_after.high
    assert sure.look_up is not None
    assert not sure.look_up.known
    assert "is assumed and moves the film's gel by up to" in look_up_sentence(sure.look_up)
    assert sure.look_up.size == max(row.size for row in sure.hangs_on if not row.known)


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
    assert "run down the wall" in stop_with_cup_sentence(first)
    assert "is safe" in stop_with_cup_sentence(replace(first, film_lag=-30.0))


def test_no_coats_are_refused(resin):
    with pytest.raises(PlanError, match="0 coats"):
        clock(resin, (), TODAY, HANDS, rubber=Backing())
