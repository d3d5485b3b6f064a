"""The turning program: first wet everything, then visit every direction evenly until nothing moves.

The clock is the film's: times count from the mixing of this shot. A program is a motion for the
forecast and a few sentences for the hands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from evenwall.errors import MotionError, PlanError
from evenwall.plan.pushes import Pushes, candidates, choice, pushed, turns_in_words
from evenwall.turning import coverage, patterns
from evenwall.turning.coverage import Evenness
from evenwall.turning.kinematics import GRAVITY, FloatArray, Motion, angles

FRAME_RATE: Final[float] = 1.05  # usual mean rate of the frame [rad/s], about 10 turns a minute
CRADLE_RATE: Final[float] = 0.84  # usual rate of the cradle [rad/s], about 8 turns a minute
CENTRIFUGAL_LIMIT: Final[float] = 0.1  # w^2 r/g [-] that a gentle turning stays under
WET_GAP: Final[float] = np.deg2rad(35.0)  # wetted: no direction farther than this from a visited one [rad]
SETTLED_RUN: Final[float] = 0.5e-3  # how far the film may run after the stop where no film was rehearsed [m]


@dataclass(frozen=True, kw_only=True)
class Stage:
    """One stretch of the turning, as the hands do it."""

    name: Literal["hold", "wet", "even", "rest"]
    start: float  # [s] from the mixing of this shot
    stop: float  # [s] from the mixing of this shot; the rest ends at gel
    frame_rate: float  # mean rate of a push of the frame [rad/s]
    cradle_rate: float  # rate of a push of the cradle relative to the frame [rad/s]
    words: str  # what to do, one sentence


@dataclass(frozen=True, kw_only=True)
class Program:
    """The turning of one shot."""

    motion: Motion  # from the mixing of this shot; at rest before start and after stop
    pushes: Pushes  # how the hands push
    start: float  # mold closed, turning begins [s]
    wetted: float  # every direction has been visited once [s]
    stop: float  # turning ends [s]
    stages: tuple[Stage, ...]  # in order, without gaps
    evenness: Evenness  # of the time after wetting, weighted by the resin's fluidity
    run_after_stop: float  # how far the film still runs after the stop [m]
    centrifugal_ratio: float  # largest w^2 r/g of the turning [-]
    notes: tuple[str, ...]  # what was changed or is doubtful, one sentence each


def turning_program(
    *,
    time: FloatArray,
    viscosity: FloatArray,
    gel: float,
    start: float,
    reach: float,
    thickness: float,
    density: float,
    ratio: float | None = None,
    frame_rate: float = FRAME_RATE,
    cradle_rate: float = CRADLE_RATE,
    hold: tuple[float, float] = (0.0, 0.0),
    pushes: Pushes | None = None,
    settled_run: float = SETTLED_RUN,
) -> Program:
    """The turning of one shot whose film has this viscosity.

    time [s] from the mixing and viscosity [Pa s] of the film, both (k,), infinite once gelled; gel: of the
    film [s]; start: mold closed, turning begins [s]; reach: farthest wall from the crossing [m]; thickness
    of the coat [m]; density [kg/m3]; ratio: cradle turns per frame turn where the frame drives the cradle,
    None where each axis is pushed on its own; frame_rate, cradle_rate: mean rate of a push [rad/s]; hold:
    frame and cradle angle of the pose in which the mold is filled [rad]; pushes: how the hands push, those
    with the most even directions where not given; settled_run: how far the film may still run down an upright
    wall once the turning stops [m].

    Raises PlanError where the film gels before the turning can begin.
    """
    if not gel > start:
        raise PlanError(
            f"turning can begin at {start:.0f} s but the film gels at {gel:.0f} s: "
            "close the mold sooner, mix less at a time, or cool the resin"
        )
    fluidity = 1.0 / np.maximum(np.asarray(viscosity, dtype=np.float64), 1e-6)
    frame_rate, cradle_rate, notes = gentle_rates(frame_rate, cradle_rate, ratio, reach)
    stop = _stop_time(time, fluidity, gel, start, thickness, density, settled_run)
    chosen = pushes or _most_even(time, fluidity, start, stop, frame_rate, cradle_rate, ratio)
    turning = pushed(
        chosen, duration=stop - start, frame_rate=frame_rate, cradle_rate=cradle_rate, ratio=ratio
    )
    motion = patterns.joined(
        patterns.still(frame_angle=hold[0], cradle_angle=hold[1]), turning, at=start, blend=0.5
    )
    wetted = _wetted_at(motion, start, stop)
    even_from = wetted if wetted < stop else start
    measured = coverage.evenness(motion, start=even_from, stop=stop, weight_time=time, weight=fluidity)
    notes += _notes(measured, start, wetted, stop, time, viscosity, ratio)
    return Program(
        motion=motion,
        pushes=chosen,
        start=start,
        wetted=wetted,
        stop=stop,
        stages=_stages(chosen, start, wetted, stop, gel, frame_rate, cradle_rate, ratio),
        evenness=measured,
        run_after_stop=run_length(time, fluidity, stop, gel, thickness, density),
        centrifugal_ratio=_centrifugal_ratio(frame_rate, cradle_rate, reach),
        notes=tuple(notes),
    )


def run_length(
    time: FloatArray, fluidity: FloatArray, start: float, stop: float, thickness: float, density: float
) -> float:
    """How far [m] a film's mean runs down a still wall from start to stop [s]: rho g h^2/3 times int dt/mu.

    Nusselt's film on a vertical wall; time [s] and fluidity [1/(Pa s)] of shape (k,), thickness [m],
    density [kg/m3]. Example: 1 mm of 1 Pa s at 1000 kg/m3 runs 3.27 mm in a second.
    """
    if stop <= start:
        return 0.0
    inner = time[(time > start) & (time < stop)]
    grid = np.concatenate(([start], inner, [stop]))
    flowed = float(np.trapezoid(np.interp(grid, time, fluidity), grid))
    return density * GRAVITY * thickness**2 / 3.0 * flowed


def sequence(programs: list[tuple[float, Program]]) -> Motion:
    """One motion of several shots: (time of mixing after the first mixing [s], program) in order."""
    if not programs:
        raise MotionError("turning of 0 shots: give at least 1")
    mixed, first = programs[0]
    motion = _later(first.motion, mixed)
    for mixed, program in programs[1:]:
        free = max(float(motion.time[-1]), mixed) + 0.1
        filled = mixed + program.start - 1.0
        if free + 2.0 > filled:
            raise MotionError(
                f"the turning of a shot begins at {filled:.0f} s, before the one before it ends at "
                f"{motion.time[-1]:.0f} s: mix it later"
            )
        pose, now = angles(program.motion, 0.0), angles(motion, free)
        motion = patterns.propped(
            motion,
            at=free,
            frame_angle=patterns.nearest(pose[0], to=now[0]),
            cradle_angle=patterns.nearest(pose[3], to=now[3]),
        )
        motion = patterns.joined(motion, _later(program.motion, mixed - filled), at=filled, blend=0.5)
    return motion


def _later(motion: Motion, by: float) -> Motion:
    return motion._replace(time=motion.time + by)


def gentle_rates(
    frame_rate: float, cradle_rate: float, ratio: float | None, reach: float
) -> tuple[float, float, list[str]]:
    """Rates [rad/s] of both axes, slowed where the wall is so far out that the liquid would be thrown."""
    if ratio is not None:
        cradle_rate = abs(ratio) * frame_rate
    thrown = _centrifugal_ratio(frame_rate, cradle_rate, reach)
    if thrown <= CENTRIFUGAL_LIMIT:
        return frame_rate, cradle_rate, []
    slower = float(np.sqrt(CENTRIFUGAL_LIMIT / thrown))
    note = (
        f"turning slowed to {slower:.0%} of the usual rate: at the usual one the farthest wall would see "
        f"{thrown:.2f} g outward, over {CENTRIFUGAL_LIMIT:g} g"
    )
    return slower * frame_rate, slower * cradle_rate, [note]


def _centrifugal_ratio(frame_rate: float, cradle_rate: float, reach: float) -> float:
    return (frame_rate**2 + cradle_rate**2) * reach / GRAVITY


def _stop_time(
    time: FloatArray,
    fluidity: FloatArray,
    gel: float,
    start: float,
    thickness: float,
    density: float,
    settled_run: float,
) -> float:
    """The earliest time [s] after which the still film runs less than `settled_run` [m] before it gels."""
    grid = np.linspace(start, gel, 400)
    flow = np.interp(grid, time, fluidity)
    steps = 0.5 * (flow[1:] + flow[:-1]) * np.diff(grid)
    left = np.concatenate((np.cumsum(steps[::-1])[::-1], [0.0]))
    run = density * GRAVITY * thickness**2 / 3.0 * left
    return float(max(grid[np.argmax(run <= settled_run)], min(gel, start + 20.0)))


def _most_even(
    time: FloatArray,
    fluidity: FloatArray,
    start: float,
    stop: float,
    frame_rate: float,
    cradle_rate: float,
    ratio: float | None,
) -> Pushes:
    """The pushes with the most even directions, for want of a film: the usual ones where those are about as even."""
    options, scores = candidates(ratio), []
    for one in options:
        motion = pushed(
            one, duration=stop - start, frame_rate=frame_rate, cradle_rate=cradle_rate, ratio=ratio
        )
        seen = coverage.evenness(
            motion, start=0.0, stop=stop - start, weight_time=time - start, weight=fluidity
        )
        scores.append(seen.bias + seen.spread)
    return options[choice(options, scores)[0]]


def _wetted_at(motion: Motion, start: float, stop: float) -> float:
    """When [s] gravity has come within WET_GAP of every direction; `stop` if it never does."""
    low, high = start, stop
    if coverage.largest_gap(motion, start=start, stop=stop) > WET_GAP:
        return stop
    while high - low > 0.5:
        middle = 0.5 * (low + high)
        if coverage.largest_gap(motion, start=start, stop=middle) > WET_GAP:
            low = middle
        else:
            high = middle
    return high


def _notes(
    measured: Evenness,
    start: float,
    wetted: float,
    stop: float,
    time: FloatArray,
    viscosity: FloatArray,
    ratio: float | None,
) -> list[str]:
    notes = []
    thick = float(np.interp(wetted, time, np.minimum(viscosity, 1e6)))
    if wetted >= stop:
        notes.append(
            f"in {stop - start:.0f} s this turning does not come past every direction: "
            "close sooner or turn faster"
        )
    elif thick > 3.0:
        notes.append(
            f"the resin reaches {thick:.1f} Pa s before everything is wetted at {wetted:.0f} s: "
            "close sooner, or brush the far places first"
        )
    if ratio is not None and measured.starved_share > 0.05:
        notes.append(
            f"{ratio:g} cradle turns per frame turn starve {measured.starved_share:.0%} of all directions: "
            "turn the cradle by hand now and then, or change the ratio to one that is not a simple fraction"
        )
    return notes


def _stages(
    pushes: Pushes,
    start: float,
    wetted: float,
    stop: float,
    gel: float,
    frame_rate: float,
    cradle_rate: float,
    ratio: float | None,
) -> tuple[Stage, ...]:
    frame, cradle = (turns_in_words(pair) for pair in (pushes.frame_turns, pushes.cradle_turns))
    how = f"push the frame {frame}" + (
        f", and on its own the cradle {cradle}" if ratio is None else "; the cradle follows"
    )
    even = "go on the same way, gently and without a stop"
    rows: list[tuple[Literal["hold", "wet", "even", "rest"], float, float, float, float, str]] = [
        ("hold", 0.0, start, 0.0, 0.0, "Mix, pour, close and clamp; the mold stands still."),
        ("wet", start, wetted, frame_rate, cradle_rate, f"Wet every place: {how}."),
        ("even", wetted, stop, frame_rate, cradle_rate, f"Keep it even: {even}."),
        (
            "rest",
            stop,
            gel,
            0.0,
            0.0,
            "Stop: what is on the wall no longer runs; prop the mold until it gels.",
        ),
    ]
    return tuple(
        Stage(name=name, start=a, stop=b, frame_rate=f, cradle_rate=c, words=words)
        for name, a, b, f, c, words in rows
        if b > a
    )
