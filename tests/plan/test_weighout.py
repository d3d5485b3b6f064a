"""Weigh-out: to the scale's step, in ratio, in cups that exist; refused where the scale or the cups can't."""

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from evenwall.errors import PlanError
from evenwall.files.resin_file import load_resin
from evenwall.plan.weighout import (
    MixingCup,
    Order,
    brush_mass,
    fill_line,
    fill_lines,
    least_mass,
    stays_behind,
    volume_error,
    weigh_out,
)
from evenwall.resin.data import Filler
from evenwall.resin.filler import filled

CUPS = (1e-4, 2.5e-4, 5e-4, 1e-3, 2.5e-3)
RESIN = load_resin("museum-sudden")  # ratio by weight not 1
TOLERANCE = 0.03


def whole(mass: float, step: float) -> bool:
    return abs(mass / step - round(mass / step)) < 1e-6


@settings(max_examples=60, deadline=None)
@given(st.floats(0.005, 0.8), st.sampled_from((1e-5, 1e-4, 1e-3)), st.floats(0.0, 0.1))
def test_every_weighed_shot_is_whole_steps_in_ratio_and_enough(mass, step, pigment):
    assume(mass > least_mass(RESIN, step))
    shot = weigh_out(
        RESIN, [Order(name="coat 1", mass=mass)], scale_step=step, cups=CUPS, pigment=pigment
    ).shots[0]
    assert whole(shot.a, step)
    assert whole(shot.b_weighed, step)
    assert shot.b + shot.pigment == pytest.approx(shot.b_weighed)
    assert shot.pigment == pytest.approx(pigment * shot.b)
    assert shot.ratio_error <= TOLERANCE
    assert abs(shot.b / shot.a / RESIN.ratio - 1.0) <= shot.ratio_error
    assert shot.mass - shot.stays >= mass - step  # what reaches the wall
    assert shot.mass - shot.stays <= mass + 3 * step
    assert shot.mass / RESIN.density <= 0.5 * shot.cup * 1.05  # at most half full, pigment beside
    assert shot.stays == pytest.approx(stays_behind(RESIN, shot.mass, shot.cup), rel=0.1)


def test_a_shot_that_the_scale_can_not_weigh_in_ratio_is_refused():
    with pytest.raises(PlanError) as fault:
        weigh_out(RESIN, [Order(name="coat 1", mass=0.02)], scale_step=1e-3, cups=CUPS)
    said = str(fault.value)
    assert said.startswith("shot 1 of 1: ")
    assert f"below the {1e3 * least_mass(RESIN, 1e-3):.3g} g" in said
    assert "to 3 %" in said


def test_a_shot_that_no_cup_holds_half_full_is_refused():
    with pytest.raises(PlanError, match=r"shot 2 of 2: .* the largest here has 100 mL"):
        weigh_out(
            RESIN,
            [Order(name="coat 1", mass=0.03), Order(name="coat 2", mass=0.2)],
            scale_step=1e-4,
            cups=(1e-4,),
        )


@pytest.mark.parametrize("mass", [0.0, -1.0, math.nan, math.inf])
def test_an_impossible_mass_is_refused(mass):
    with pytest.raises(PlanError, match="not above 0 g"):
        weigh_out(RESIN, [Order(name="coat 1", mass=mass)], scale_step=1e-4, cups=CUPS)


def test_one_tinted_batch_serves_the_coats_that_show():
    orders = [Order(name="coat 1", mass=0.06), Order(name="coat 2", mass=0.06, tinted=False)]
    out = weigh_out(RESIN, orders, scale_step=1e-4, cups=CUPS, pigment=0.02)
    assert [label.part for label in out.labels] == ["A", "B tinted", "A", "B"]
    assert out.shots[1].pigment == 0.0
    assert out.batch_b > out.shots[0].b
    assert out.batch_pigment == pytest.approx(0.02 * out.batch_b)
    assert out.a == pytest.approx(sum(shot.a for shot in out.shots))
    assert any("darker than cured" in note for note in out.notes)


def test_a_sheet_that_wants_pigment_in_the_other_part_is_told():
    other = replace(RESIN, sheet=replace(RESIN.sheet, pigment_into="A"))
    order = [Order(name="coat 1", mass=0.06)]
    tinted = weigh_out(other, order, scale_step=1e-4, cups=CUPS, pigment=0.01)
    assert any("wants pigment in part A" in note for note in tinted.notes)
    plain = weigh_out(other, order, scale_step=1e-4, cups=CUPS)
    assert not any("part A" in note for note in plain.notes)


def test_too_much_pigment_is_told():
    out = weigh_out(RESIN, [Order(name="coat 1", mass=0.06)], scale_step=1e-4, cups=CUPS, pigment=0.1)
    assert any("soft" in note for note in out.notes)


@given(st.floats(0.03, 0.1), st.floats(0.03, 0.1), st.floats(0.05, 0.2), st.floats(0.01, 0.99))
def test_a_fill_line_holds_the_volume_it_stands_for(bottom, top, height, share):
    cup = MixingCup(bottom=bottom, top=top, height=height)
    line = fill_line(cup, share * cup.volume)
    low = 0.5 * bottom
    high = low + 0.5 * (top - bottom) * line / height
    # a cut cone: pi h (R2 + R r + r2)/3, any table of solids
    assert math.pi * line * (low * low + low * high + high * high) / 3 == pytest.approx(share * cup.volume)


def test_two_fill_lines_carry_a_larger_error_than_the_scale():
    shot = weigh_out(RESIN, [Order(name="coat 1", mass=0.1)], scale_step=1e-4, cups=CUPS).shots[0]
    cup = MixingCup(bottom=0.06, top=0.08, height=0.1)
    first, second = fill_lines(cup, shot)
    assert 0.0 < first < second < cup.height
    assert volume_error(cup, shot) > shot.ratio_error
    with pytest.raises(PlanError, match="take a bigger cup"):
        fill_line(cup, 2.0 * cup.volume)


def test_a_coat_of_a_millimetre_on_a_thousand_square_centimetres_is_a_tenth_of_a_litre():
    # common practice, no source: 100 mL for 1000 cm2 of wall
    out = weigh_out(RESIN, [Order(name="coat 1", mass=RESIN.density * 1e-4)], scale_step=1e-4, cups=CUPS)
    shot = out.shots[0]
    assert (shot.mass - shot.stays) / RESIN.density == pytest.approx(1e-4, rel=0.01)
    assert 0.01 < shot.stays / shot.mass < 0.1


def test_a_bigger_place_takes_more_brushed_resin():
    assert 0.0 < brush_mass(RESIN, 10e-4) < brush_mass(RESIN, 40e-4)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.03, 0.3), st.floats(0.05, 0.4))
def test_a_filler_is_weighed_with_the_shot_and_the_parts_keep_their_ratio(mass, share):
    mixed = filled(RESIN, Filler(name="chalk", density=2700.0), share).resin
    shot = weigh_out(mixed, [Order(name="coat 1", mass=mass)], scale_step=1e-4, cups=CUPS).shots[0]
    assert shot.mass == pytest.approx(shot.a + shot.b_weighed + shot.filler)
    assert shot.filler / shot.mass == pytest.approx(share, abs=1e-4 / shot.mass)
    assert abs(shot.b / shot.a / RESIN.ratio - 1.0) <= shot.ratio_error <= TOLERANCE
    assert shot.mass - shot.stays == pytest.approx(mass, abs=4e-4)


def test_a_witness_cup_is_mixed_with_each_coat_and_does_not_reach_the_wall():
    order = [Order(name="brush", kind="brush", mass=0.03), Order(name="coat 1", mass=0.06)]
    alone = weigh_out(RESIN, order, scale_step=1e-4, cups=CUPS)
    watched = weigh_out(RESIN, order, scale_step=1e-4, cups=CUPS, witness=0.03)
    assert watched.shots[0] == alone.shots[0]
    assert watched.shots[1].stays - 2.0 * watched.shots[1].rest == pytest.approx(0.03)
    assert watched.shots[1].mass - watched.shots[1].stays == pytest.approx(0.06, abs=3e-4)
