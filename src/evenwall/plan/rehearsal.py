"""The first coat on a coarse mesh: which way of pushing makes it most even, and when the turning may stop."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Final, NamedTuple

from evenwall.errors import heed
from evenwall.film.cap import kept_areas
from evenwall.film.coat import Checkpoint, CoatRun, never, no_progress
from evenwall.film.findings import SAG, averaging, figures
from evenwall.film.pouring import Pour, Setting, poured
from evenwall.film.rubber import new_column
from evenwall.film.sag import MOMENTS, earliest_stop, rehearsed, run_down
from evenwall.film.state import Figures, Shot
from evenwall.geometry.remesh import evened
from evenwall.geometry.surface import Surface
from evenwall.plan.casting_job import Job
from evenwall.plan.course import LONG, Rehearsal, closed, farthest, film_setting
from evenwall.plan.program import gentle_rates
from evenwall.plan.pushes import candidates, choice, pushed
from evenwall.turning import patterns
from evenwall.turning.kinematics import Motion

NODES: Final = 1000  # enough to rank patterns
LOOK: Final = 0.2  # time between two words of progress [s]
ALLOWED: Final = 0.5 * SAG  # change after the stop: half is kept for what the plan doesn't know []


class _Tried(NamedTuple):
    """One way of turning the first coat."""

    pour: Pour
    setting: Setting
    run: CoatRun
    states: list[Checkpoint]
    figures: Figures


def rehearse(
    job: Job,
    coat: float,
    volume: float,
    *,
    nodes: int,
    progress: Callable[[float, str], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Rehearsal:
    """The turning of a first coat of `coat` [m] made by a shot of `volume` [m3], chosen by its film.

    It runs on about `nodes` nodes, at most NODES. The ways of pushing are compared by the coefficient of
    variation of the film they make, and the best is tried with hands that push unevenly. Then the best one is
    stopped at earlier and earlier moments, until the film would change somewhere by ALLOWED before it gels.
    """
    surface = evened(job.piece.surface, nodes=min(nodes, NODES), stop=stop)
    shot = Shot(volume=volume, temperature=job.shop.resin, pour_after=closed(job))
    turning, options = job.turning, candidates(None)
    motions = [patterns.constant(frame_rate=turning.frame_rate, cradle_rate=turning.cradle_rate)]
    if turning.pattern == "hand":
        frame, cradle, _ = gentle_rates(turning.frame_rate, turning.cradle_rate, None, farthest(job))
        motions = [pushed(one, duration=LONG, frame_rate=frame, cradle_rate=cradle) for one in options]
    tell = progress or no_progress
    with ThreadPoolExecutor(2) as pool:
        running = [pool.submit(_turned, job, surface, shot, motion, stop) for motion in motions]
        while wait(running, timeout=LOOK).not_done:
            tell(0.0, "rehearsing the first coat")
    tried = [one.result() for one in running]
    heed(stop)
    pushes, why, hands, best = None, "", "", tried[0]
    if turning.pattern == "hand":
        chosen, why = choice(options, [one.figures.cv for one in tried])
        pushes, best = options[chosen], tried[chosen]
        uneven = patterns.unsteady(motions[chosen], until=LONG)
        hands = _by_hands(best.figures, _turned(job, surface, shot, uneven, stop).figures)
    settled = earliest_stop(
        best.pour,
        best.setting,
        best.run,
        best.states,
        limit=ALLOWED,
        progress=lambda _, text: tell(0.0, f"stopping the first coat earlier, {text}"),
        stop=stop or never,
    )
    return Rehearsal(
        pushes=pushes,
        why=why,
        hands=hands,
        settled_run=run_down(settled.left, thickness=coat, density=job.resin.density),
    )


def _by_hands(steady: Figures, uneven: Figures) -> str:
    """What real hands do to the film, in one sentence."""
    thinner = 100.0 * (1.0 - (uneven.p05 / uneven.mean) / (steady.p05 / steady.mean))
    return (
        "hands that push with a pace off by 20 % and rest for 2 s now and then leave a film that varies by"
        f" {100.0 * uneven.cv:.0f} % where a steady pace leaves {100.0 * steady.cv:.0f} %; its thin places get"
        f" {abs(thinner):.0f} % {'thinner' if thinner >= 0.0 else 'thicker'} (one course of chance, quick forecast)"
    )


def _turned(
    job: Job, surface: Surface, shot: Shot, motion: Motion, stop: Callable[[], bool] | None
) -> _Tried:
    setting = film_setting(job, motion, (shot,))
    column = new_column(setting.rubber, len(surface.vertices), temperature=setting.mold_temperature)
    pour = poured(surface, shot, setting, column, moments=MOMENTS)
    run, states = rehearsed(pour, setting, stop=stop or never)
    kept = kept_areas(surface, pour.wall.area, setting.closing)
    patches = averaging(pour.wall.x, pour.wall.normal, kept)
    return _Tried(pour, setting, run, states, figures(run.thickness, kept, patches))
