"""The recipe and plan of a casting as the bench takes them, from the job as it stands."""

from __future__ import annotations

from pathlib import Path

from evenwall.bench.casting import BenchPlan
from evenwall.bench.recipe import Recipe, plan_of, recipe_from, recipe_of
from evenwall.errors import PlanError
from evenwall.files.job_schema import JobFile
from evenwall.web import rooms


def bench_recipe(folder: Path, file: JobFile) -> Recipe:
    """What the casting's times follow from; PlanError where there is no piece yet."""
    job, made, program = (
        rooms.job_now(folder, file),
        rooms.draft_now(folder, file),
        rooms.program_now(folder, file),
    )
    if job is None or made is None or program is None:
        raise PlanError("there is no plan yet: say what the piece is in Piece")
    planned = rooms.plan_now(folder, file)
    if planned is not None:
        return recipe_of(job, planned)
    sure = rooms.sure_now(folder, file)
    return recipe_from(job, weighed=made.weigh_out, coats=made.layers, program=program, sure=sure)


def bench_plan(folder: Path, file: JobFile) -> BenchPlan:
    """All shots with their weights and minutes; PlanError where there is no piece yet."""
    return plan_of(bench_recipe(folder, file))
