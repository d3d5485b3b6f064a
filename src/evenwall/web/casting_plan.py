"""The plan of a casting as the bench takes it, from the job as it stands."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from evenwall.bench.casting import BenchPlan, ShotPlan
from evenwall.errors import PlanError
from evenwall.files.job_schema import JobFile
from evenwall.job import assumptions
from evenwall.web import rooms

LATE: Final = 1.25  # the film may gel so much later than computed []


def bench_plan(folder: Path, file: JobFile) -> BenchPlan:
    """All coats with their weights and minutes; PlanError where there is no piece yet."""
    job, day = rooms.job_now(folder, file), rooms.day_now(folder, file)
    if job is None or day is None:
        raise PlanError("there is no plan yet: say what the piece is in Piece")
    shop = job.shop
    shots = []
    for amounts, coat in zip(day.coats, day.times, strict=True):
        budget, minutes = coat.budget, coat.minutes
        shots.append(
            ShotPlan(
                name=amounts.name,
                kind="coat",
                mass_a=amounts.a,
                mass_b=amounts.b,
                mass_pigment=amounts.pigment,
                stir_for=shop.stir,
                pour_at=shop.stir,
                pour_within=max(budget.pour_within, shop.stir),
                pour_last=max(budget.cup_limit, budget.pour_within, shop.stir),
                pour_for=shop.pour,
                close_for=shop.close,
                closed_within=max(budget.closed_within, budget.closed),
                wet_for=budget.wetted - budget.closed,
                gel_cup=minutes.gel_witness,
                gel_film=minutes.gel_film,
                gel_film_late=LATE * minutes.gel_film,
                next_from=minutes.next_from,
                next_to=minutes.next_to,
            )
        )
    return BenchPlan(
        name=file.name,
        shots=tuple(shots),
        open_after=day.open_after,
        room=shop.air,
        mold=shop.mold,
        board_off=file.mold.opening in ("base counts", "trimmed"),
        assumed=assumptions(job),
    )
