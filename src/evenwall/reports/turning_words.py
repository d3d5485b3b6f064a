"""How the machine is turned, stage by stage, in words and turns a minute."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from evenwall.job import Job, Plan
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
    rates = (
        f"{from_si(turning.frame_rate, 'rpm'):.1f} and the cradle in it "
        f"{from_si(turning.cradle_rate, 'rpm'):.1f} turns a minute"
    )
    if turning.pattern == "constant":
        gel = plan.shots[0].clock.minutes.gel_film
        stop = gel if turning.stop_after is None else turning.stop_after
        return [
            Told(name="turn", start=plan.program.start, stop=stop, words=f"Turn steadily, the frame {rates}.")
        ]
    stages = []
    for stage in plan.program.stages:
        stop = stage.stop
        if turning.stop_after is not None and stage.name != "rest":
            stop = min(stop, turning.stop_after)
        if stop > stage.start:
            how = f" The frame makes about {rates}." if stage.name == "wet" else ""
            stages.append(
                Told(name=STAGES[stage.name], start=stage.start, stop=stop, words=stage.words + how)
            )
    return stages
