"""Results keep their numbers and arrays, and are used again only for the same inputs."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pytest

from evenwall.files.results import FOLDER, fingerprint, load_result, save_result
from evenwall.film.state import Floats, Shot
from evenwall.turning.kinematics import Motion
from evenwall.turning.patterns import constant


@dataclass(frozen=True, kw_only=True)
class Inner:
    map: Floats
    kind: Literal["full", "coarse"]


@dataclass(frozen=True, kw_only=True)
class Result:
    shot: Shot
    parts: tuple[Inner, ...]
    at: tuple[float, float, float]
    late: float
    stopped: bool
    motion: Motion


def a_result():
    part = Inner(map=np.linspace(0.0, 1e-3, 7).reshape(7, 1), kind="full")
    return Result(
        shot=Shot(volume=5e-5),
        parts=(part, part),
        at=(0.1, 0.2, 0.3),
        late=float("inf"),
        stopped=False,
        motion=constant(frame_rate=0.5, cradle_rate=0.4),
    )


def test_a_result_comes_back_as_it_went(tmp_path):
    save_result(tmp_path, "forecast", "abc", a_result())
    back = load_result(tmp_path, "forecast", Result, key="abc")
    assert back is not None
    assert np.array_equal(back.parts[1].map, a_result().parts[1].map)
    assert np.array_equal(back.motion.frame_rate, [0.5])
    assert (back.shot, back.at, back.late, back.parts[0].kind) == (
        a_result().shot,
        (0.1, 0.2, 0.3),
        float("inf"),
        "full",
    )


def test_other_inputs_are_not_answered_with_an_old_result(tmp_path):
    save_result(tmp_path, "forecast", "abc", a_result())
    assert load_result(tmp_path, "forecast", Result, key="abd") is None
    assert load_result(tmp_path, "other", Result) is None


@pytest.mark.parametrize("ending", ["json", "npz"])
def test_a_damaged_result_is_none(tmp_path, ending):
    save_result(tmp_path, "forecast", "abc", a_result())
    path = tmp_path / FOLDER / f"forecast.{ending}"
    path.write_bytes(path.read_bytes()[:40])
    assert load_result(tmp_path, "forecast", Result) is None


def test_the_fingerprint_sees_every_number():
    one, array = a_result(), np.zeros(5)
    assert fingerprint(one, array) == fingerprint(a_result(), np.zeros(5))
    changed = array.copy()
    changed[3] = 1e-300
    assert fingerprint(one, array) != fingerprint(one, changed)
    assert fingerprint((1, 2), 3) != fingerprint((1,), 2, 3)
