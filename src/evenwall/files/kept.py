"""Plans and forecasts of a job folder: computed once, kept, and used again while their inputs hold."""

from __future__ import annotations

from collections.abc import Callable

from evenwall import job as pipeline
from evenwall.files.job_file import locked
from evenwall.files.open_job import Opened
from evenwall.files.results import fingerprint, load_result, save_result
from evenwall.film.state import FilmForecast
from evenwall.job import Plan

Progress = Callable[[float, str], None]
Stop = Callable[[], bool]


def kept_plan(opened: Opened, *, progress: Progress | None = None, stop: Stop | None = None) -> Plan:
    """The job's plan, from results/plan if nothing that it follows from has changed."""
    key = fingerprint("plan", opened.job)
    found = load_result(opened.folder, "plan", Plan, key=key)
    if found is not None:
        return found
    made = pipeline.plan(opened.job, progress=progress, stop=stop)
    if not made.forecast.stopped:
        with locked(opened.folder):
            save_result(opened.folder, "plan", key, made)
    return made


def plan_at_hand(opened: Opened) -> Plan | None:
    """The job's plan if it was made before and still holds; nothing is computed."""
    return load_result(opened.folder, "plan", Plan, key=fingerprint("plan", opened.job))


def kept_forecast(
    opened: Opened,
    planned: Plan | None,
    *,
    nodes: int,
    stop_turning: float | None = None,
    progress: Progress | None = None,
    stop: Stop | None = None,
) -> FilmForecast:
    """The forecast of the planned shots with about `nodes` nodes, from results/ if its inputs hold.

    Without a plan the job's own or untried shots are taken; `stop_turning` [s] is counted from each mixing.
    """
    name = f"forecast-{nodes}" + ("" if stop_turning is None else f"-stop-{stop_turning:.0f}")
    shots = [s.shot for s in planned.shots] if planned is not None else []
    key = fingerprint("forecast", opened.job, shots, nodes, stop_turning)
    found = load_result(opened.folder, name, FilmForecast, key=key)
    if found is not None:
        return found
    made = pipeline.forecast(
        opened.job, planned, nodes=nodes, stop_turning=stop_turning, progress=progress, stop=stop
    )
    with locked(opened.folder):
        save_result(opened.folder, name if not made.stopped else f"{name}-stopped", key, made)
    return made
