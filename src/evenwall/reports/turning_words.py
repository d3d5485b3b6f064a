"""How the machine is turned, stage by stage, in words and turns a minute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evenwall.job import Job, Plan
from evenwall.plan.program import Program
from evenwall.units import from_si

STAGES: Final = {"hold": "get ready", "wet": "wet it", "even": "keep even", "rest": "rest"}


@dataclass(frozen=True, kw_only=True)
class Told:
    """One stage as the maker reads it."""

    name: str
    start: float  # [s since mixing]
    stop: float  # [s since mixing]
    words: str


def turning_told(job: Job, plan: Plan) -> list[Told]:
    """The stages of the first coat's turning; the later coats go the same way."""
    turning = job.turning
    if turning.pattern == "hand":
        return hands_told(job, plan.program)
    gel = plan.shots[0].clock.minutes.gel_film
    stop = gel if turning.stop_after is None else turning.stop_after
    words = f"Turn steadily, the frame {_rates(turning.frame_rate, turning.cradle_rate)}."
    return [Told(name="turn", start=plan.program.start, stop=stop, words=words)]


def hands_told(job: Job, program: Program) -> list[Told]:
    """The stages of turning by hand, up to the job's own stop where it has one."""
    end = job.turning.stop_after
    stages = []
    for stage in program.stages:
        stop = stage.stop if end is None or stage.name == "rest" else min(stage.stop, end)
        if stop > stage.start:
            rates = _rates(stage.frame_rate, stage.cradle_rate)
            how = f" The frame makes about {rates}." if stage.name == "wet" else ""
            stages.append(
                Told(name=STAGES[stage.name], start=stage.start, stop=stop, words=stage.words + how)
            )
    return stages


def _rates(frame: float, cradle: float) -> str:
    return f"{from_si(frame, 'rpm'):.1f} and the cradle in it {from_si(cradle, 'rpm'):.1f} turns a minute"
