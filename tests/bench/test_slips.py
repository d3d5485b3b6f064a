"""After a slip the bench's times are those of the job planned afresh with the same facts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from scipy.optimize import brentq

from evenwall.bench.casting import BenchPlan
from evenwall.bench.facts import Facts, ShotFacts
from evenwall.bench.recipe import Recipe, plan_of, recipe_of
from evenwall.bench.words import words_of
from evenwall.errors import PlanError
from evenwall.files.demo import binary_stl
from evenwall.files.job_file import check_job, write_job_file
from evenwall.files.open_job import open_job
from evenwall.geometry.surface import Surface
from evenwall.job import Job, Plan, plan, thinnest
from evenwall.plan.clock import clock, layers
from evenwall.plan.course import conditions, handling

NODES = 300
NOTHING = ShotFacts()


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    folder = tmp_path_factory.mktemp("job")
    mesh = trimesh.creation.capsule(height=60.0, radius=24.0)
    surface = Surface(np.asarray(mesh.vertices) / 1e3, np.asarray(mesh.faces))
    (folder / "piece.stl").write_bytes(binary_stl(surface))
    wall = {"target_wall_mm": 2.0, "least_wall_mm": 0.3, "brush": False, "shots_g": [18.0, 18.0]}
    write_job_file(folder, check_job({"piece": {"mesh": "piece.stl", "unit": "mm"}, "wall": wall}))
    return open_job(folder).job


@pytest.fixture(scope="module")
def planned(job: Job) -> Plan:
    return plan(job, nodes=NODES)


@pytest.fixture(scope="module")
def recipe(job: Job, planned: Plan) -> Recipe:
    return recipe_of(job, planned)


def facts(**first: float) -> Facts:
    """Facts about the first of both shots."""
    return Facts(shots=(ShotFacts(mixed_at=0.0, **first), NOTHING))


def same_times(bench: BenchPlan, job: Job, planned: Plan, *, known: Job | None = None) -> Plan:
    """Every time that `job` planned afresh has, to the last digits; the fresh plan.

    How thin the last coat gets where it is thinnest, which the opening waits for, is taken from the forecast that
    there is: nothing is forecast anew at the machine.
    """
    fresh = planned if job is known else plan(job, nodes=NODES)
    for shot, coat in zip(bench.shots, fresh.shots, strict=True):
        minutes, budget = coat.clock.minutes, coat.clock.budget
        assert shot.gel_film == pytest.approx(minutes.gel_film, rel=1e-6)
        assert shot.gel_cup == pytest.approx(minutes.gel_witness, rel=1e-6)
        assert shot.pour_within == pytest.approx(max(budget.pour_within, 0.0), rel=1e-6, abs=1e-6)
        assert shot.closed_within == pytest.approx(budget.closed_within, rel=1e-6)
    first, last = bench.shots[0], bench.shots[-1]
    poured = fresh.shots[1].clock.mixed_at + last.stir_for
    assert first.next_from == pytest.approx(max(poured, first.turn_until), rel=1e-6)
    thicknesses = [shot.coat for shot in fresh.shots]
    coats = layers(fresh.weigh_out.shots, thicknesses, thinnest=thinnest(planned.forecast))
    witness = job.shop.witness
    again = clock(
        job.resin,
        coats,
        conditions(job),
        handling(job),
        rubber=job.mold.rubber,
        witness=witness,
        strict=False,
    )
    assert bench.open_after == pytest.approx(max(again.open_after, last.gel_film_late), rel=1e-6)
    return fresh


def says(bench: BenchPlan) -> list[str]:
    return [note.say for note in bench.notes]


def test_without_a_slip_it_is_the_plan(job: Job, recipe: Recipe, planned: Plan) -> None:
    bench = plan_of(recipe)
    fresh = same_times(bench, job, planned, known=job)
    assert bench.open_after == pytest.approx(fresh.open_after, rel=1e-6)
    assert bench.notes == ()


def test_a_colder_room_and_a_slow_closing_in_the_dry_run(job: Job, recipe: Recipe, planned: Plan) -> None:
    shop = replace(job.shop, air=290.15, resin=290.15, mold=289.15, close=38.0)
    bench = plan_of(recipe, Facts(room=290.15, mold=289.15, close_for=38.0))
    same_times(bench, replace(job, shop=shop), planned)
    assert bench.shots[0].gel_film > 1.15 * planned.shots[0].clock.minutes.gel_film
    assert bench.shots[0].close_for == 38.0
    assert says(bench) == ["colder"]


def test_a_cup_that_gelled_early(job: Job, recipe: Recipe, planned: Plan) -> None:
    """The fresh plan is that of the resin whose cure is so fast that its own plan has the cup that was seen."""
    seen = 0.85 * planned.shots[0].clock.minutes.gel_witness

    def faster(factor: float) -> Job:
        cure = job.resin.cure._replace(rate_factor=factor * job.resin.cure.rate_factor)
        return replace(job, resin=replace(job.resin, cure=cure))

    def cup(factor: float) -> float:
        other = plan_of(recipe_of(faster(factor), planned))
        return other.shots[0].gel_cup - seen

    factor = float(brentq(cup, 1.0, 2.0, rtol=1e-9))
    bench = plan_of(recipe, facts(gel_cup=seen))
    same_times(bench, faster(factor), planned)
    assert "cup_was_early" in says(bench)
    late = bench.shots[0].gel_film_late / bench.shots[0].gel_film - 1.0
    assert late == pytest.approx(recipe.late_seen), "a cup that was seen leaves the band of the lag alone"
    assert recipe.late_seen < recipe.late


def test_poured_late(job: Job, recipe: Recipe, planned: Plan) -> None:
    """As if it had been stirred longer: the film's and the cup's own times are the fresh plan's."""
    late = 8.0
    fresh = plan(replace(job, shop=replace(job.shop, stir=job.shop.stir + late)), nodes=NODES)
    bench = plan_of(recipe, facts(poured_after=job.shop.stir + late + job.shop.pour))
    minutes = fresh.shots[0].clock.minutes
    assert bench.shots[0].gel_film == pytest.approx(minutes.gel_film, rel=1e-6)
    assert bench.shots[0].gel_cup == pytest.approx(minutes.gel_witness, rel=1e-6)
    assert bench.shots[0].gel_film != pytest.approx(planned.shots[0].clock.minutes.gel_film, rel=1e-6)
    assert bench.notes == (), "still within its time"


def test_less_than_planned(job: Job, recipe: Recipe, planned: Plan) -> None:
    """The film is that of a fresh plan with the smaller shot; its cup was mixed as planned."""
    poured = recipe.shots[0].mass_a + recipe.shots[0].mass_b - recipe.shots[0].stays
    volumes = (0.7 * job.wish.volumes[0], job.wish.volumes[1])
    bench = plan_of(recipe, facts(mass=0.7 * poured))
    thin = plan(replace(job, wish=replace(job.wish, volumes=volumes)), nodes=NODES).shots[0].clock.minutes
    assert bench.shots[0].gel_film == pytest.approx(thin.gel_film, rel=0.01)
    (note,) = bench.notes
    assert note.say == "too_little"
    missing = float(note.numbers["a_kg"]) + float(note.numbers["b_kg"])
    assert missing == pytest.approx(0.3 * poured, rel=1e-6)


@pytest.mark.parametrize(
    ("fact", "note"),
    [
        ({"mass": 1.4}, "too_much"),
        ({"poured_after": 1.2}, "poured_too_late"),
        ({"gel_cup": 1.3}, "cup_was_late"),
        ({"gel_cup": 0.02}, "odd_cup"),
    ],
)
def test_what_can_still_be_saved_is_said(recipe: Recipe, fact: dict[str, float], note: str) -> None:
    shot = plan_of(recipe).shots[0]
    ones = {
        "mass": shot.mass - shot.stays,
        "poured_after": shot.pour_last + shot.pour_for,
        "gel_cup": shot.gel_cup,
    }
    told = {name: share * ones[name] for name, share in fact.items()}
    assert note in says(plan_of(recipe, facts(**told)))


def test_a_shot_that_thickens_before_it_can_be_in_is_said_before_it_is_mixed(recipe: Recipe) -> None:
    assert "thick_early" in says(plan_of(recipe, Facts(close_for=150.0)))


def test_what_was_weighed_is_what_is_reckoned_with(recipe: Recipe) -> None:
    shot = recipe.shots[0]
    more = 1.1 * shot.coat.mass
    thick = plan_of(recipe, facts(weighed=more)).shots[0]
    coat = replace(
        shot.coat,
        mass=more,
        thickness=shot.coat.thickness * (more - shot.stays) / (shot.coat.mass - shot.stays),
    )
    same = plan_of(replace(recipe, shots=(replace(shot, coat=coat), recipe.shots[1])))
    assert thick.gel_film == pytest.approx(same.shots[0].gel_film, rel=1e-9)


def test_every_note_has_words(recipe: Recipe) -> None:
    numbers = {"mass": 0.5, "poured_after": 1000.0, "gel_cup": 300.0}
    found = [
        *plan_of(recipe, facts(**numbers)).notes,
        *plan_of(recipe, Facts(room=303.15, close_for=150.0)).notes,
    ]
    assert len(found) >= 4
    for note in found:
        text = words_of("en")["note"][note.say]
        for name, value in note.numbers.items():
            assert f"{{{name}}}" in text
            assert not (isinstance(value, float) and math.isnan(value))


def test_a_frozen_shop_is_refused_in_one_sentence(recipe: Recipe) -> None:
    with pytest.raises(PlanError) as caught:
        plan_of(recipe, Facts(room=225.0, mold=225.0))
    assert "\n" not in str(caught.value)
