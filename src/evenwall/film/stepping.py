"""The film through time: steps as long as the flow allows, cure and heat between them, until it has gelled."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit

from evenwall.film.drops import let_fall
from evenwall.film.flux import Body, body_at
from evenwall.film.rubber import Column
from evenwall.film.state import Floats
from evenwall.film.steps import (
    CURED,
    FAILED,
    FLOW,
    FULL,
    LIQUID,
    MEAN,
    POOL,
    RIPENS,
    ROUGH,
    SPIN,
    STEP,
    STEPS,
    TIME,
    WORST,
    Coating,
    Control,
    backward,
    rosenbrock,
)
from evenwall.film.team import BLOCKS, Team, blocks, meet, whole
from evenwall.film.warming import Outside, Record, cure_and_warm
from evenwall.turning.kinematics import GRAVITY, angular_velocity

AT_REST: Final = 0.01  # slower than this a pool does not sweep the wall [rad/s]
HARD: Final = (
    1e-4  # shorter steps than this are taken by the scheme that damps, not by the more exact one [s]
)

SMOOTHS: Final = (
    0.5  # BDF2 goes on for so long where ROS2 wants steps no longer than its, for single nodes [s]
)

# why `advance` returned
REACHED, PAUSED, GELLED, STUCK = range(4)
# rows of the team's partial sums
FLOWING, POOLED, BRIMFUL, HELD, COVERED, FAR = range(6)


@njit(cache=True)
def take_stock(team: Team, coating: Coating, body: Body, clock: Floats) -> None:
    """Share of the volume that is still liquid, share that is pool, share in full nodes, largest centrifugal ratio."""
    wall, film, thickness = coating.wall, coating.film, coating.work.thickness
    n = film.volume.size
    spin2 = body.w[0] ** 2 + body.w[1] ** 2 + body.w[2] ** 2
    low, high = blocks(team)
    for block in range(low, high):
        liquid = pool = full = held = area = far = 0.0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            here = wall.area[i] * film.volume[i]
            liquid += here
            if thickness[i] > coating.frame.thick:
                pool += here
            if film.volume[i] + film.solid[i] >= wall.brim[i]:
                full += here
            held += here + wall.area[i] * film.solid[i]
            area += wall.area[i]
            r0 = wall.x[i, 0] - body.crossing[0]
            r1 = wall.x[i, 1] - body.crossing[1]
            r2 = wall.x[i, 2] - body.crossing[2]
            along = body.w[0] * r0 + body.w[1] * r1 + body.w[2] * r2
            far = max(far, spin2 * (spin2 * (r0 * r0 + r1 * r1 + r2 * r2) - along * along))
        team.sums[FLOWING, block] = liquid
        team.sums[POOLED, block] = pool
        team.sums[BRIMFUL, block] = full
        team.sums[HELD, block] = held
        team.sums[COVERED, block] = area
        team.sums[FAR, block] = far
    meet(team)
    held = whole(team, HELD)
    clock[LIQUID] = whole(team, FLOWING) / held if held > 0.0 else 0.0
    clock[POOL] = whole(team, POOLED) / held if held > 0.0 else 0.0
    clock[FULL] = whole(team, BRIMFUL) / held if held > 0.0 else 0.0
    clock[MEAN] = held / whole(team, COVERED)
    for block in range(BLOCKS):
        clock[SPIN] = max(clock[SPIN], math.sqrt(team.sums[FAR, block]) / GRAVITY)
    meet(team)


@njit(cache=True)
def longest_cure(control: Control, clock: Floats, spin: float, late: bool) -> float:
    """How long a step of cure and heat may be [s] while the mold turns by `spin` [rad/s]."""
    longest = control.cure_every
    if late and clock[FLOW] < control.quiet * spin:
        longest *= control.cure_quiet
    elif spin * longest > control.cure_turn:
        longest = control.cure_turn / spin
    if clock[RIPENS] * longest > control.cure_gain:
        longest = control.cure_gain / clock[RIPENS]
    return longest


@njit(cache=True, nogil=True)
def advance(
    team: Team,
    coating: Coating,
    column: Column,
    outside: Outside,
    record: Record,
    clock: Floats,
    end: float,
    most_steps: int,
) -> int:
    """Steps until `end` [s], until gelled, or for `most_steps`; the clock holds time and step in between."""
    wall, film, thickness = coating.wall, coating.film, coating.work.thickness
    fluid, terms, control, frame = coating.fluid, coating.terms, coating.control, coating.frame
    least_turn = min(control.turn, control.turn_late)
    taken = 0
    while clock[TIME] < end - 1e-9:
        if taken >= most_steps:
            return PAUSED
        t = clock[TIME]
        dt = min(clock[STEP], control.longest)
        w = angular_velocity(frame.motion, t + 0.5 * dt)
        spin = math.sqrt(w[0] ** 2 + w[1] ** 2 + w[2] ** 2)
        calm = spin < AT_REST and clock[FULL] == 0.0  # at a brim ROS2's second stage sees its other side
        smooth = clock[POOL] <= control.moving_pool and t >= clock[ROUGH]
        late = (smooth or calm) and dt > HARD
        most_turn = control.turn
        if late:
            most_turn = control.turn_late
            if clock[FLOW] < control.quiet * spin:
                most_turn *= control.stretch_quiet
        if spin * dt > most_turn:
            dt = most_turn / spin
        dt = (end - t) / math.ceil((end - t) / dt)  # even steps to the end, none tiny
        error = 0.0
        if late:
            body = body_at(frame.motion, t + 0.5 * dt, frame.crossing, terms.inertia)
            norm, error = rosenbrock(team, coating, body, dt, clock)
        else:
            body = body_at(frame.motion, t + dt, frame.crossing, terms.inertia)
            norm = backward(team, coating, body, dt, clock)
        if norm < 0.0 or error > 4.0 or not math.isfinite(norm):
            clock[FAILED] += 1.0
            clock[STEP] = 0.5 * dt
            if late and not calm and clock[STEP] * spin < least_turn:
                clock[ROUGH] = t + SMOOTHS
            if not math.isfinite(norm) or clock[STEP] < control.shortest:
                clock[WORST] = np.argmax(thickness)
                return STUCK
            continue
        taken += 1
        clock[TIME] = t + dt
        clock[STEPS] += 1.0
        clock[FLOW] = norm / dt
        growth = (control.courant_late if late else control.courant) / max(norm, 1e-12)
        if late:
            growth = min(growth, 0.8 / math.sqrt(max(error, 1e-12)))
        wanted = clock[STEP]
        clock[STEP] = min(max(dt * growth, 0.5 * wanted), 1.3 * wanted)
        if late and not calm and dt * growth * spin < least_turn:
            clock[ROUGH] = clock[TIME] + SMOOTHS
        if clock[TIME] < clock[ROUGH] and clock[STEP] * spin > 2.0 * control.turn:
            clock[STEP] = 2.0 * control.turn / spin
        since = clock[TIME] - clock[CURED]
        if since >= longest_cure(control, clock, spin, late) or clock[TIME] >= end - 1e-9:
            gain = cure_and_warm(
                team, wall, film, thickness, fluid, column, outside, record, clock[TIME], since
            )  # fmt: skip
            clock[RIPENS] = gain / since
            now = body_at(frame.motion, clock[TIME], frame.crossing, 1.0)
            if terms.drops > 0.0:
                if team.rank == 0:
                    let_fall(wall, film, thickness, fluid, now, since, record.fallen)
                meet(team)
            clock[CURED] = clock[TIME]
            take_stock(team, coating, now, clock)
            if clock[LIQUID] <= control.until_gel:
                return GELLED
    return REACHED
