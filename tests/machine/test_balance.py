"""The machine as a whole: seat, counterweights, clearance, strength."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenwall.errors import InputError
from evenwall.machine import assembly, counterweights, parts, seat, strength, torque
from evenwall.machine.balance import balance_machine
from evenwall.machine.clearance import clearance
from evenwall.machine.counterweights import Load, Rims
from evenwall.machine.parts import Machine, Place, Weight

PLAIN = Machine(mold_mass=8.0, mold_outer=(0.22, 0.20, 0.26), frame_opening=(0.55, 0.50))
OFF = replace(PLAIN, mold_offset=(0.02, -0.01, 0.03))
number = st.floats(-0.3, 0.3)


def test_three_numbers_are_enough_and_the_rest_is_said_to_be_assumed() -> None:
    report = balance_machine(PLAIN)
    assert report.reached
    assert len(report.assumed) >= 5
    assert {line.known for line in report.bill} == {"weighed", "typical"}
    assert sum(line.mass for line in report.bill) == pytest.approx(report.turning_mass)
    weighed = balance_machine(replace(PLAIN, cradle_mass=4.0, frame_mass=5.0))
    assert weighed.turning_mass == pytest.approx(8.0 + 4.0 + 5.0)
    assert {line.known for line in weighed.bill} == {"weighed"}


def test_sitting_the_mold_does_it_without_any_weight_where_the_opening_lets_it() -> None:
    report = balance_machine(OFF)
    assert report.seat.shift[:2] == pytest.approx((-0.02, 0.01), abs=6e-4)
    assert not report.counterweights
    assert report.frame_axis_torque.after < 0.1 * report.frame_axis_torque.before
    assert report.cradle_axis_torque.after < 0.1 * report.cradle_axis_torque.before


def test_where_the_mold_cannot_be_moved_weights_do_it() -> None:
    report = balance_machine(replace(OFF, mold_centre=(0.02, -0.01, 0.03)))
    assert report.seat.shift == pytest.approx((0.0, 0.0, 0.0))
    assert report.counterweights
    assert report.reached
    assert report.rim_force <= 3.0
    rims = assembly.rims(OFF)
    force = max(report.frame_axis_torque.after / rims.frame, report.cradle_axis_torque.after / rims.cradle)
    assert report.rim_force == pytest.approx(force)


def test_the_stated_torque_is_the_worst_of_all_attitudes_of_all_parts() -> None:
    report = balance_machine(replace(OFF, mold_centre=(0.02, -0.01, 0.03)))
    hung = [counterweights.as_part(piece) for piece in report.counterweights]
    everything = [*report.parts, *hung]
    frame, cradle = parts.moment(everything, "frame"), parts.moment(everything, "cradle")
    angle = np.linspace(0.0, 2.0 * np.pi, 361)
    seen = torque.frame_torque(frame, cradle, frame_angle=angle[:, None], cradle_angle=angle[None, :])
    assert np.abs(seen).max() == pytest.approx(report.frame_axis_torque.after, rel=1e-3)


def test_coats_in_the_mold_are_balanced_together_with_the_empty_one() -> None:
    report = balance_machine(
        replace(OFF, casting_mass=0.8, casting_centre=(0.03, 0.0, 0.02), liquid_mass=0.2)
    )
    assert report.reached
    assert 0.0 < report.liquid_torque[0] <= report.liquid_torque[1]


def test_weights_too_small_are_named_with_a_remedy() -> None:
    few = replace(OFF, mold_centre=(0.05, 0.0, 0.05), weights=(Weight(name="nut", mass=0.02, count=2),))
    report = balance_machine(few)
    assert not report.reached
    assert any("hang them farther out" in note for note in report.notes)


@given(number, number, number, number, number, number)
@settings(max_examples=60, deadline=None)
def test_the_closed_form_is_never_exceeded_and_is_reached(
    fx: float, fy: float, fz: float, cx: float, cy: float, cz: float
) -> None:
    frame, cradle = np.array([fx, fy, fz]), np.array([cx, cy, cz])
    worst = torque.worst(frame, cradle)
    angle = np.linspace(0.0, 2.0 * np.pi, 73)
    seen = torque.frame_torque(frame, cradle, frame_angle=angle[:, None], cradle_angle=angle[None, :])
    assert np.abs(seen).max() <= worst.frame + 1e-12
    phi, theta = worst.frame_at
    there = torque.frame_torque(frame, cradle, frame_angle=phi, cradle_angle=theta)
    assert abs(float(there)) == pytest.approx(worst.frame, abs=1e-12)
    phi, theta = worst.cradle_at
    there = torque.cradle_torque(cradle, frame_angle=phi, cradle_angle=theta)
    assert abs(float(there)) == pytest.approx(worst.cradle, abs=1e-12)


def test_a_program_of_many_pieces_keeps_stock_room_and_limit() -> None:
    places = assembly.default_places(PLAIN, (0.0, 0.0, 0.0))
    stock = [Weight(name="a", mass=0.2, count=6), Weight(name="b", mass=0.5, count=3)]
    load = Load(frame=np.array([0.0, 0.0, 0.05]), cradle=np.array([0.11, -0.06, 0.02]))
    chosen = counterweights.choose(
        loads=[load], weights=stock, places=places, rims=Rims(frame=0.3, cradle=0.14), limit=2.0
    )
    assert chosen.reached
    assert len(chosen.hung) >= 3
    for weight in stock:
        assert sum(piece.name == weight.name for piece in chosen.hung) <= weight.count
    for place in places:
        assert sum(piece.place == place.name for piece in chosen.hung) <= place.room


def test_a_corner_that_would_hit_the_frame_is_named_with_its_angle() -> None:
    tight = replace(PLAIN, frame_opening=(0.36, 0.50))
    report = balance_machine(tight)
    assert report.clearance.smallest.gap < 0.0
    assert report.clearance.smallest.obstacle == "the frame's side bars"
    assert any("larger frame" in note for note in report.notes)
    # the corner of the boards that is nearest points along the frame axis at the stated angle
    corner = 0.5 * np.array([0.28, 0.26])
    assert report.clearance.smallest.gap == pytest.approx(0.18 - np.hypot(*corner), abs=1e-9)


@pytest.mark.parametrize("ratio", [None, 4.0, 1.0])
def test_the_swept_gap_to_the_table_is_that_of_a_fine_search(ratio: float | None) -> None:
    tall = replace(
        PLAIN, frame_opening=(0.4, 0.3), mold_outer=(0.30, 0.20, 0.24), axle_height=0.4, ratio=ratio
    )
    inside = assembly.assembled(tall, (0.0, 0.0, 0.02))
    cradle = [part for part in inside if part.carrier == "cradle"]
    phi = np.linspace(0.0, 2.0 * np.pi, 721)
    theta = phi if ratio is None else ratio * phi
    lowest = np.inf
    for part in cradle:
        for x, y, z in parts.corners(part):
            side = np.sin(theta) * x + np.cos(theta) * y
            if ratio is None:
                side = -np.hypot(x, y) * np.ones(1)
                height = np.sin(phi)[:, None] * side + np.cos(phi)[:, None] * z
            else:
                height = np.sin(phi) * side + np.cos(phi) * z
            lowest = min(lowest, float(height.min()))
    found = clearance(tall, [*cradle, *(p for p in inside if p.carrier == "frame" and "left" in p.name)])
    table = next(gap for gap in found.gaps if gap.obstacle == "table or floor")
    assert table.gap == pytest.approx(0.4 + lowest, abs=2e-4)


def test_a_fixed_ratio_never_needs_more_room_than_free_axes() -> None:
    inside = assembly.assembled(PLAIN, (0.0, 0.0, 0.0))
    free = clearance(PLAIN, inside)
    fixed = clearance(replace(PLAIN, ratio=1.0), inside)
    low = [next(g.gap for g in c.gaps if g.obstacle == "table or floor") for c in (free, fixed)]
    assert low[1] >= low[0] - 1e-9


def test_the_centre_is_found_from_two_balances_on_an_edge() -> None:
    found = seat.centre_from_edge((0.22, 0.20, 0.26), {"x": 0.125, "z": 0.12})
    assert found.offset == pytest.approx((0.015, 0.0, -0.01))
    assert found.error[1] == pytest.approx(0.02)
    assert any("along y" in note for note in found.notes)
    with pytest.raises(InputError, match="outside the mold"):
        seat.centre_from_edge((0.22, 0.20, 0.26), {"x": 0.3})


def test_a_block_and_a_sphere_in_a_skin_weigh_what_they_must() -> None:
    assert parts.block_mass(outer=(0.1, 0.1, 0.1), piece_volume=2e-4, density=1000.0) == pytest.approx(0.8)
    radius, skin, jacket = 0.05, 0.01, 0.02
    sphere = [4.0 / 3.0 * np.pi * r**3 for r in (radius, radius + skin, radius + skin + jacket)]
    mass = parts.jacket_mass(
        area=4.0 * np.pi * radius**2,
        piece_volume=sphere[0],
        skin=skin,
        density=1150.0,
        jacket=jacket,
        jacket_density=900.0,
    )
    assert mass == pytest.approx(1150.0 * (sphere[1] - sphere[0]) + 900.0 * (sphere[2] - sphere[1]))
    with pytest.raises(InputError, match="does not fit"):
        parts.block_mass(outer=(0.1, 0.1, 0.1), piece_volume=2e-3, density=1000.0)


def test_a_light_stand_tips_until_it_is_screwed_down() -> None:
    assert not balance_machine(PLAIN).strength.holds
    assert balance_machine(replace(PLAIN, stand_fixed=True)).strength.holds
    ratio = strength.tipping_ratio(mass=40.0, foot=0.8, push=100.0, height=1.2)
    assert ratio == pytest.approx(40.0 * 9.80665 * 0.4 / 120.0)


def test_a_thin_shaft_and_missing_clamps_are_named() -> None:
    weak = balance_machine(replace(PLAIN, shaft=0.008, clamps=1, mold_mass=60.0, stand_fixed=True))
    notes = " ".join(weak.strength.notes)
    assert "thicker" in notes
    assert "clamps" in notes
    assert any(caution.hazard == "people under the load" for caution in weak.cautions)


def test_warmed_air_presses_on_the_board_as_gay_lussac_says() -> None:
    """101 325 Pa x 20/295 over 1 dm2 is 68.7 N."""
    assert strength.closing_force(mass=0.0, area=0.01, warming=20.0) == pytest.approx(68.7, abs=0.05)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (replace(PLAIN, mold_mass=0.0), "weigh it"),
        (replace(PLAIN, mold_outer=(0.2, -0.1, 0.2)), "outer size"),
        (replace(PLAIN, limit=0.0), "limit at the rim"),
        (replace(PLAIN, bar_material="cheese"), "use one of"),
        (replace(PLAIN, weights=(Weight(name="nut", mass=0.0, count=1),), mold_centre=(0.1, 0, 0)), "nut"),
    ],
)
def test_a_machine_that_cannot_be_says_so(wrong: Machine, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        balance_machine(wrong)


def test_places_of_the_users_own_are_used() -> None:
    own = (Place(name="hook", at=(-0.2, 0.0, 0.0), carrier="cradle", room=4),)
    report = balance_machine(replace(PLAIN, mold_centre=(0.03, 0.0, 0.0), places=own))
    assert {piece.place for piece in report.counterweights} <= {"hook"}
