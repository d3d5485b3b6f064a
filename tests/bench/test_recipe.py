from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenwall.bench.casting import check
from evenwall.bench.facts import Facts, ShotFacts, facts_of
from evenwall.bench.moves import moves_of
from evenwall.bench.plain import recipe_from_json, recipe_to_json
from evenwall.bench.recipe import Recipe, RecipeShot, plan_of
from evenwall.files.resin_file import load_resin
from evenwall.film.state import Rubber
from evenwall.plan.clock import Coat, Conditions, clock
from evenwall.plan.timebudget import Handling
from evenwall.resin.today import Witness
from evenwall.turning import patterns

NOTHING = ShotFacts()


def a_recipe(*kinds: str) -> Recipe:
    resin = load_resin("museum-gradual")
    shots = [
        RecipeShot(
            coat=Coat(
                name=f"{kind} {n}",
                kind=kind,  # type: ignore[arg-type]
                mass=0.04 * (1.0 + resin.ratio),
                thickness=1e-3,
                cup=2.5e-4,
                rest=0.002,
            ),
            mass_a=0.04,
            mass_b=0.04 * resin.ratio,
            mass_pigment=0.0,
            stays=0.004,
        )
        for n, kind in enumerate(kinds)
    ]
    return Recipe(
        name="trial",
        resin=resin,
        shots=tuple(shots),
        conditions=Conditions(resin=295.15, mold=295.15, air=295.15),
        handling=Handling(stir=45.0, pour=20.0, close=30.0, wet=40.0),
        rubber=Rubber(),
        late=0.15,
        late_seen=0.05,
    )


@pytest.fixture(scope="module")
def recipe() -> Recipe:
    return a_recipe("coat", "coat", "coat")


def told(**one: float) -> Facts:
    """Facts about the first of three shots."""
    return Facts(shots=(ShotFacts(mixed_at=0.0, **one), NOTHING, NOTHING))


def test_without_facts_the_bench_has_the_plans_own_times(recipe) -> None:
    coats = [shot.coat for shot in recipe.shots]
    planned = clock(recipe.resin, coats, recipe.conditions, recipe.handling, rubber=recipe.rubber)
    for shot, timed in zip(plan_of(recipe).shots, planned.coats, strict=True):
        assert shot.gel_film == pytest.approx(timed.minutes.gel_film, rel=1e-9)
        assert shot.gel_cup == pytest.approx(timed.minutes.gel_witness, rel=1e-9)
        assert shot.pour_within == pytest.approx(timed.budget.pour_within, rel=1e-9)
        assert shot.closed_within == pytest.approx(timed.budget.closed_within, rel=1e-9)


def test_a_cup_that_gels_early_speaks_for_the_resin(recipe) -> None:
    """The times are those of a resin whose rate of cure gives the cup that was seen."""
    planned = plan_of(recipe)
    early = plan_of(recipe, told(gel_cup=0.8 * planned.shots[0].gel_cup))
    assert early.shots[0].gel_cup == 0.8 * planned.shots[0].gel_cup
    for before, after in zip(planned.shots, early.shots, strict=True):
        assert after.gel_film < before.gel_film
    faster = [
        replace(recipe, resin=replace(recipe.resin, cure=recipe.resin.cure._replace(rate_factor=f)))
        for f in recipe.resin.cure.rate_factor * np.linspace(1.0, 2.0, 31)
    ]
    fresh = [plan_of(other) for other in faster]
    near = np.interp(
        early.shots[0].gel_cup,
        [p.shots[0].gel_cup for p in fresh][::-1],
        [p.shots[1].gel_film for p in fresh][::-1],
    )
    assert early.shots[1].gel_film == pytest.approx(near, rel=2e-3)


def test_as_forecast_changes_nothing(recipe) -> None:
    planned = plan_of(recipe)
    same = plan_of(recipe, told(gel_cup=planned.shots[0].gel_cup))
    for before, after in zip(planned.shots, same.shots, strict=True):
        assert after.gel_film == pytest.approx(before.gel_film, rel=1e-4)


def test_a_time_that_can_not_be_is_said_and_changes_nothing(recipe) -> None:
    odd = plan_of(recipe, told(gel_cup=40.0))
    assert odd.notes[0].say == "odd_cup"
    assert odd.shots[1] == plan_of(recipe).shots[1]


def test_waiting_cools_the_wall(recipe) -> None:
    """A coat mixed long after the one before finds a cooler wall and gels later."""
    first = ShotFacts(mixed_at=0.0)
    soon = plan_of(recipe, Facts(shots=(first, ShotFacts(mixed_at=500.0), NOTHING)))
    later = plan_of(recipe, Facts(shots=(first, ShotFacts(mixed_at=3000.0), NOTHING)))
    assert later.shots[1].gel_film > soon.shots[1].gel_film


def test_a_warm_mold_puts_the_film_ahead_of_a_thin_rest() -> None:
    """Common practice, no source: a bulk cup gels before a film on a cool mold; a thin rest in a cup may gel after
    the film in a mold warm from earlier coats.
    """
    coats = a_recipe("coat", "coat", "coat", "coat")
    thin_rest, bulk = (
        plan_of(coats).shots,
        plan_of(replace(coats, witness=Witness(kind="poured", mass=0.06))).shots,
    )
    assert thin_rest[-1].gel_film < thin_rest[-1].gel_cup
    assert bulk[0].gel_film > bulk[0].gel_cup


def test_a_brush_coat_and_a_cleaning_shot_come_first(recipe) -> None:
    plan = check(plan_of(a_recipe("brush", "cleaning", "coat")))
    assert plan.shots[2].gel_film == plan_of(recipe).shots[0].gel_film


def test_a_recipe_comes_back_from_the_ledger_as_it_was(recipe) -> None:
    again = recipe_from_json(recipe_to_json(recipe))
    assert again == recipe
    assert plan_of(again) == plan_of(recipe)


def test_events_become_the_facts_of_the_plan(recipe, press) -> None:
    events = [
        press("reading", 0.0, item="room", value=290.15),
        press("mixed", 100.0, shot=0),
        press("poured", 170.0, shot=0),
        press("gelled", 500.0, shot=0),
    ]
    facts = facts_of(events, shots=3)
    by_hand = Facts(
        room=290.15,
        shots=(ShotFacts(mixed_at=0.0, poured_after=70.0, gel_cup=400.0), NOTHING, NOTHING),
    )
    assert plan_of(recipe, facts) == plan_of(recipe, by_hand)


def test_moves_are_the_pushes_of_the_pattern() -> None:
    motion = patterns.hand(frame_rate=0.8, cradle_rate=0.5, duration=300.0, frame_turns=(2.25, 1.75))
    moves = moves_of(motion, begin=0.0, end=300.0)
    frame = [m for m in moves if m.axis == "frame"]
    assert [round(m.turns, 2) for m in frame[:3]] == [2.25, -1.75, 2.25]
    assert sum(m.lasts for m in frame) == pytest.approx(300.0)
    for axis, angle in (("frame", motion.frame_angle), ("cradle", motion.cradle_angle)):
        turned = sum(m.turns for m in moves if m.axis == axis)
        assert turned == pytest.approx((angle[-1] - angle[0]) / (2 * math.pi), abs=1e-6)


def test_a_steady_motion_is_one_long_move() -> None:
    moves = moves_of(patterns.constant(frame_rate=math.pi, cradle_rate=0.0), begin=0.0, end=60.0)
    assert [(m.axis, m.lasts) for m in moves] == [("frame", 60.0)]
    assert moves[0].turns == pytest.approx(30.0)
