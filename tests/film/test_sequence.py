"""A coarse start: carried over exactly, used only where the film is shown to forget it, and said either way."""

from __future__ import annotations

import numpy as np
import pytest

from evenwall.files.resin_file import load_resin
from evenwall.film.chain import Chain, run_chain
from evenwall.film.coat import Checkpoint
from evenwall.film.pouring import Setting, poured, run_pour, setting_of
from evenwall.film.rubber import new_column
from evenwall.film.sequence import Scout, carried
from evenwall.film.state import Shot
from evenwall.film.transfer import interpolation
from evenwall.geometry.remesh import evened
from evenwall.geometry.solid import area
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.turning.patterns import constant, still

ROUND = ball(0.045, rounds=4)
EGG = Surface(ROUND.vertices * [0.8, 1.0, 1.4], ROUND.faces)
COARSE, FINE = (evened(EGG, nodes=nodes) for nodes in (350, 800))
TURNING = constant(frame_rate=1.05, cradle_rate=0.65)


def setting(resin: str = "museum-sudden", *, at_rest: bool = False) -> Setting:
    shot = Shot(volume=1e-3 * area(EGG), temperature=295.15, pour_after=90.0)
    return setting_of(load_resin(resin), still() if at_rest else TURNING, (shot,))


def nested(case: Setting) -> tuple[Chain, Scout]:
    scout = Scout()
    run_chain(COARSE, case, runner=scout.look)
    return run_chain(FINE, case, runner=scout.follow), scout


def test_liquid_conversion_and_heat_are_carried_exactly_in_sum() -> None:
    case = setting()
    coarse, fine = (
        poured(mesh, case.shots[0], case, new_column(case.rubber, len(mesh.vertices), temperature=295.15))
        for mesh in (COARSE, FINE)
    )
    states: list[Checkpoint] = []
    run_pour(coarse, case, keep=states, stop=lambda: len(states) > 2)
    state = states[-1]
    there = carried(state, interpolation(COARSE, FINE), coarse, fine)
    for name in ("volume", "cured", "heat"):
        before = float(coarse.wall.area @ getattr(state.film, name))
        after = float(fine.wall.area @ getattr(there.film, name))
        assert after == pytest.approx(before, rel=1e-12)
        assert np.all(getattr(there.film, name) >= 0.0)


def test_a_coarse_start_is_made_only_where_the_film_forgets_and_says_so() -> None:
    chain, scout = nested(setting())
    whole = run_chain(FINE, setting()).coats[0].figures
    coat = chain.coats[0]
    assert ("no longer remembers" if coat.coarse_until else "remembers what lay") in scout.reasons[0]
    for name in ("p05", "median", "p95"):
        assert getattr(coat.figures, name) == pytest.approx(getattr(whole, name), rel=0.03)


def test_a_coarse_start_keeps_the_shot_and_the_whole_history(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenwall.film.sequence.SAME", {"p05": 1.0, "median": 1.0, "p95": 1.0})
    coat = nested(setting())[0].coats[0]
    assert coat.coarse_until > 100.0
    assert coat.volume_error < 1e-10
    assert np.all(np.diff(coat.history.times) > 0.0)
    assert coat.history.times[0] < coat.coarse_until < coat.history.times[-1]


def test_a_coat_that_gels_with_its_pool_is_computed_in_full() -> None:
    chain, scout = nested(setting(at_rest=True))
    assert chain.coats[0].coarse_until == 0.0
    assert "gels as a pool" in scout.reasons[0]
