"""Balance by trial on simulated frames with friction, and the exact way with two weights."""

import numpy as np
import pytest
from numpy.typing import NDArray

from evenwall.errors import InputError
from evenwall.machine import assembly, trial, two_weights
from evenwall.machine.parts import Carrier, Machine
from evenwall.turning.kinematics import GRAVITY

MACHINE = Machine(mold_mass=8.0, mold_outer=(0.22, 0.20, 0.26), frame_opening=(0.55, 0.50))
PLACES = assembly.default_places(MACHINE, (0.0, 0.0, 0.0))
WEIGHTS = assembly.USUAL_WEIGHTS


def balanced(
    carrier: Carrier, true: NDArray[np.float64], friction: float, limit: float, seed: int
) -> tuple[trial.Trial, float]:
    """Tries as at the machine; the trial at its end and the torque that is really left [N m]."""
    chance = np.random.default_rng(seed)
    most = (0.3, 0.3) if carrier == "cradle" else (0.03, 0.3)
    now = trial.begin(carrier, most=most)
    while True:
        left = true + trial.across(now.hung, carrier)
        now = trial.answered(now, trial.let_go(left, friction=friction, chance=chance))
        told = trial.advice(now, WEIGHTS, PLACES, limit=limit)
        if told.done or now.tries >= trial.TRIES:
            return now, GRAVITY * float(np.linalg.norm(left))
        now = trial.hang(now, told.hung)


@pytest.mark.parametrize(("carrier", "limit"), [("cradle", 0.42), ("frame", 0.88)])
def test_at_most_four_tries_balance_nine_frames_in_ten(carrier: Carrier, limit: float) -> None:
    chance = np.random.default_rng(11)
    held = 0
    frames = 60
    for seed in range(frames):
        angle, size = chance.uniform(0.0, 2.0 * np.pi), chance.uniform(0.0, 0.27)
        true = size * np.array([np.cos(angle), np.sin(angle)])
        if carrier == "frame":
            true[0] *= 0.1
        friction = float(np.exp(chance.uniform(*np.log(trial.FRICTION))))
        end, left = balanced(carrier, true, friction, limit, seed)
        assert end.tries <= trial.TRIES
        held += left <= max(limit, friction)
    assert held >= 0.9 * frames


def test_each_answer_narrows_the_estimate() -> None:
    true = np.array([0.15, -0.1])
    chance = np.random.default_rng(3)
    now = trial.begin("cradle", most=(0.3, 0.3))
    spreads = [np.hypot(*trial.estimate(now)[1])]
    for _ in range(3):
        left = true + trial.across(now.hung, "cradle")
        now = trial.answered(now, trial.let_go(left, friction=0.05, chance=chance))
        spreads.append(np.hypot(*trial.estimate(now)[1]))
        told = trial.advice(now, WEIGHTS, PLACES, limit=0.1)
        if told.done:
            break
        now = trial.hang(now, told.hung)
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] < 0.3 * spreads[0]


def test_the_first_piece_hangs_opposite_the_side_that_falls() -> None:
    for side in (0.3, 2.0, 4.5):
        now = trial.answered(trial.begin("cradle", most=(0.3, 0.3)), side)
        told = trial.advice(now, WEIGHTS, PLACES, limit=0.4)
        moment = trial.across(told.hung, "cradle")
        heavy = np.array([np.cos(side), np.sin(side)])
        assert moment @ heavy < -0.8 * np.linalg.norm(moment)
        assert told.words.startswith("Hang")


def test_what_stays_is_done() -> None:
    now = trial.answered(trial.begin("cradle", most=(0.3, 0.3)), None)
    told = trial.advice(now, WEIGHTS, PLACES, limit=0.4)
    assert told.done
    assert not told.hung


def test_two_weights_find_known_offsets_within_the_stated_error_at_the_stated_rate() -> None:
    """One standard error holds 68 % of the readings, two hold 95 % (normal errors)."""
    chance = np.random.default_rng(8)
    inside = []
    for _ in range(400):
        true, friction = chance.uniform(-0.2, 0.2), chance.uniform(0.05, 0.5)
        readings = []
        for sign in (1.0, -1.0):
            start = true * GRAVITY + sign * friction
            arm = 0.3 if start > 0.0 else -0.3
            mass = start / (GRAVITY * arm) + two_weights.MASS_ERROR * chance.standard_normal()
            read = arm + two_weights.ARM_ERROR * chance.standard_normal()
            readings.append(two_weights.Reading(mass=mass, arm=read))
        found = two_weights.component(readings[:1], readings[1:])
        inside.append(abs(found.torque - true * GRAVITY) / found.error)
    shares = [np.mean(np.array(inside) < k) for k in (1.0, 2.0)]
    assert shares[0] == pytest.approx(0.683, abs=0.08)
    assert shares[1] == pytest.approx(0.954, abs=0.035)


def test_two_cradle_angles_tell_frame_and_cradle_apart() -> None:
    def at(across: float, along: float) -> two_weights.Imbalance:
        parts = [two_weights.Component(torque=m * GRAVITY, friction=0.1, error=0.01) for m in (across, along)]
        return two_weights.imbalance(*parts)

    found = two_weights.frame_imbalance(at(0.03 + 0.02, 0.1), at(0.03 - 0.02, 0.1))
    assert found.frame_across == pytest.approx(0.03)
    assert found.cradle_across == pytest.approx(0.02)
    assert found.along == pytest.approx(0.1)
    assert found.error[2] == pytest.approx(0.01 / GRAVITY / np.sqrt(2.0))


def test_readings_that_contradict_each_other_are_refused() -> None:
    one, two = two_weights.Reading(mass=0.1, arm=0.3), two_weights.Reading(mass=0.2, arm=0.3)
    with pytest.raises(InputError, match="swap them"):
        two_weights.component([one], [two])
    with pytest.raises(InputError, match="at least 1"):
        two_weights.component([], [two])


def test_friction_hides_the_direction() -> None:
    assert two_weights.rest_error(friction=0.1, torque=0.2) == pytest.approx(np.pi / 6.0)
    assert two_weights.rest_error(friction=0.3, torque=0.2) == pytest.approx(np.pi)
