"""Turning: the motion, and where gravity stands in the mold while the film still flows."""

from __future__ import annotations

from typing import Final

import numpy as np
from nicegui import run

from evenwall.job import Job
from evenwall.plan.program import Program
from evenwall.reports.turning_words import hands_told
from evenwall.turning import coverage, patterns
from evenwall.turning.kinematics import GRAVITY
from evenwall.web import rooms
from evenwall.web.amounts import clock, span
from evenwall.web.asks import Ask
from evenwall.web.globe import globe_svg
from evenwall.web.runs import Runs
from evenwall.web.tags import drawing, figure, sheet, tag, words
from evenwall.web.window import Window, wants_piece

LEAD: Final = "First wet the whole wall before it thickens, then visit every direction evenly while it flows."
PATTERNS: Final = (
    ("hand", "by hand: both ways, each axis pushed on its own"),
    ("constant", "constant rates"),
)
SHOWN: Final = 2500  # points of the path that are drawn


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    with tag("div", "spread"):
        with tag("div", "stack"):
            with sheet("How you turn it"):
                window.ask(Ask(key="turning.pattern", label="Pattern", kind="choice", options=PATTERNS))
                window.ask(
                    Ask(key="turning.frame_rpm", label="Frame", note="Turns about the level axis."),
                    Ask(key="turning.cradle_rpm", label="Cradle", note="Turns in the frame, relative to it."),
                    Ask(key="turning.stop_after_min", label="Stop turning after", unset="when the film has gelled"),
                    Ask(key="turning.crossing_mm", label="Where the axes cross", kind="numbers",
                        unset="the middle of the piece"),
                )  # fmt: skip
            with sheet("Before you turn"):
                words(
                    "p",
                    "Goggles on: resin can jet from a seam that comes to lie below. Hands only at the rim.",
                    "caution",
                )
                words(
                    "p",
                    "Keep hair, sleeves and bystanders away; stand beside the frame, not over it.",
                    "caution",
                )
        with tag("div", "stack"), sheet("Which way is down, seen from the mold"):
            window.area(lambda: _path(window), aria_live="polite")


async def _path(window: Window) -> None:
    folder, file = window.desk.folder, window.desk.file
    job = rooms.job_now(folder, file)
    if job is None:
        wants_piece(
            window, "The path follows once the piece is known: how long the film flows depends on it."
        )
        return
    program = await run.io_bound(rooms.program_now, folder, file)
    if program is not None:  # none: the app is closing
        _shown(window, job, program)


def _shown(window: Window, job: Job, program: Program) -> None:
    by_hand = job.turning.pattern == "hand"
    rates = {"frame_rate": job.turning.frame_rate, "cradle_rate": job.turning.cradle_rate}
    motion = program.motion if by_hand else patterns.constant(**rates)
    start, stop = (program.start, program.stop) if by_hand else (0.0, program.stop - program.start)
    if job.turning.stop_after is not None:
        stop = max(start + 1.0, min(stop, job.turning.stop_after))
    found = coverage.evenness(motion, start=start, stop=stop)
    _, directions = coverage.sampled(motion, start=start, stop=stop)
    thinned = directions[:: max(1, len(directions) // SHOWN)]
    share = 100.0 * found.starved_share
    label = (
        f"Gravity's path in the mold over {clock(stop - start)}; {share:.0f} % of all directions are starved"
    )
    drawing(globe_svg(thinned, found.starved, label=label))
    words(
        "p", "The line is the way that down takes through the mold; crosses mark starved directions.", "note"
    )
    with tag("dl", "figures"):
        figure("Starved directions", f"{share:.0f} %", "0 is even")
        figure("One-sidedness", f"{found.bias:.2f}", "0 even, 1 at rest")
        figure("Largest gap", f"{np.rad2deg(found.largest_gap):.0f}°", "to the nearest visited direction")
        figure("Turned for", clock(stop - start), "from the closing to standing film")
    _speed(job)
    if found.bias > 0.15 or found.starved_share > 0.1:
        words("p", "Uneven: change the ratio of the two rates, or push both ways by hand.", "caution")
    if by_hand:
        _stages(window, job, program)


def _stages(window: Window, job: Job, program: Program) -> None:
    words("h3", "For the hands")
    with tag("ol", "plain-list"):
        for stage in hands_told(job, program):
            words("li", f"{span(stage.start, stage.stop)}: {stage.words}")
    for note in program.notes:
        words("p", window.say(note), "caution")


def _speed(job: Job) -> None:
    rate = abs(job.turning.frame_rate) + abs(job.turning.cradle_rate)
    arms = job.piece.surface.vertices - np.asarray(job.crossing)
    ratio = rate**2 * float(np.linalg.norm(arms, axis=1).max()) / GRAVITY
    if ratio > 0.1:
        words("p", f"At this speed the liquid is thrown outwards with {ratio:.2f} of its weight and goes to the far "
                   "walls. Slower is better; speed does not help.", "caution")  # fmt: skip
