"""The turning program: wets first, stays even, stops when nothing moves."""

from typing import Any

import numpy as np
import pytest

from evenwall.errors import MotionError, PlanError
from evenwall.plan import program, pushes
from evenwall.turning import coverage, kinematics

GEL = 420.0
TIME = np.linspace(0.0, 900.0, 901)
CONVERSION = np.clip(TIME / GEL, 0.0, 1.0) * 0.6
VISCOSITY = np.where(
    TIME < GEL, 0.6 * (0.6 / np.maximum(0.6 - CONVERSION, 1e-9)) ** (2.0 + 1.5 * CONVERSION), np.inf
)


def planned(**changed: Any) -> program.Program:
    given: dict[str, Any] = {
        "time": TIME, "viscosity": VISCOSITY, "gel": GEL, "start": 90.0, "reach": 0.12,
        "thickness": 1e-3, "density": 1050.0,
    } | changed  # fmt: skip
    return program.turning_program(**given)


def test_the_mold_stands_still_until_closed_and_after_the_stop() -> None:
    made = planned()
    assert made.start == 90.0 < made.wetted < made.stop < GEL
    for t in (0.0, 45.0, 89.9, made.stop + 1.0, GEL):
        rate = kinematics.angles(made.motion, t)
        assert (rate[1], rate[4]) == (0.0, 0.0)
    assert [stage.name for stage in made.stages] == ["hold", "wet", "even", "rest"]
    for before, after in zip(made.stages[:-1], made.stages[1:], strict=True):
        assert before.stop == after.start


def test_when_wetted_no_direction_is_far_from_a_visited_one() -> None:
    made = planned()
    seen = coverage.evenness(made.motion, start=made.start, stop=made.wetted)
    assert seen.largest_gap <= program.WET_GAP
    earlier = coverage.evenness(made.motion, start=made.start, stop=made.wetted - 5.0)
    assert earlier.largest_gap > program.WET_GAP


def test_turning_stops_when_the_film_has_settled_and_no_sooner() -> None:
    made = planned()
    fluidity = 1.0 / VISCOSITY
    assert made.run_after_stop <= 1.01 * program.SETTLED_RUN
    sooner = program.run_length(TIME, fluidity, made.stop - 15.0, GEL, 1e-3, 1050.0)
    assert sooner > program.SETTLED_RUN


def test_a_thin_coat_may_be_stopped_sooner() -> None:
    assert planned(thickness=0.4e-3).stop < planned().stop - 10.0


def test_the_program_starves_no_direction_and_is_about_as_even_as_constant_rates() -> None:
    made = planned()
    constant = coverage.evenness(
        program.patterns.constant(frame_rate=0.6, cradle_rate=0.371),
        start=made.wetted, stop=made.stop, weight_time=TIME, weight=1.0 / VISCOSITY,
    )  # fmt: skip
    assert made.evenness.spread < 1.05 * constant.spread
    assert made.evenness.starved_share < 0.05


def test_another_way_of_pushing_is_taken_only_where_its_film_is_clearly_more_even() -> None:
    assert pushes.choice(pushes.PUSHES, [0.2, 0.2, 0.3, 0.19])[0] == 0
    chosen, why = pushes.choice(pushes.PUSHES, [0.2, 0.2, 0.3, 0.16])
    assert chosen == 3
    assert "both always one way leaves a film that varies by 16 %" in why
    assert "20 % for the frame 8 1/4 turns forth and 7 back" in why


def test_a_ratio_of_one_is_told_to_starve_the_mold() -> None:
    made = planned(ratio=1.0)
    assert any("starve" in note for note in made.notes)
    assert any("does not come past every direction" in note for note in made.notes)
    assert not any("starve" in note for note in planned().notes)


def test_a_large_mold_is_turned_more_slowly() -> None:
    made = planned(reach=4.0)
    assert made.centrifugal_ratio == pytest.approx(program.CENTRIFUGAL_LIMIT)
    assert any("slowed" in note for note in made.notes)


def test_a_film_that_gels_before_the_mold_is_closed_is_refused_with_a_remedy() -> None:
    with pytest.raises(PlanError, match="close the mold sooner"):
        planned(start=430.0)


def test_the_shots_of_a_day_follow_each_other_from_the_same_filling_pose() -> None:
    made = planned(hold=(0.3, -0.2))
    motion = program.sequence([(0.0, made), (1200.0, made), (2400.0, made)])
    assert (np.diff(motion.time) > 0.0).all()
    pose = kinematics.rotation(frame_angle=0.3, cradle_angle=-0.2)
    for mixed in (0.0, 1200.0, 2400.0):
        np.testing.assert_allclose(kinematics.attitude(motion, mixed + 80.0), pose, atol=1e-9)
        np.testing.assert_allclose(
            kinematics.attitude(motion, mixed + 200.0), kinematics.attitude(made.motion, 200.0), atol=1e-6
        )
    with pytest.raises(MotionError, match="mix it later"):
        program.sequence([(0.0, made), (200.0, made)])
