"""The film through time: implicit steps written as fluxes, so that volume is exact and nothing goes below 0."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numba import njit

from evenwall.film.fluid import Fluid, Terms
from evenwall.film.flux import Body, Film, Work, body_at, fluxes, pressures
from evenwall.film.implicit import System, assemble, change_of_pressure, choose_active, solve
from evenwall.film.operators import Wall
from evenwall.film.rubber import Column
from evenwall.film.state import Floats
from evenwall.film.warming import Outside, Record, cure_and_warm
from evenwall.turning.kinematics import GRAVITY, Motion, angular_velocity

GAMMA: Final = 1.0 - 1.0 / math.sqrt(2.0)
KEPT: Final = 1.0 - 1e-14  # a node gives at most this share of what it holds in one step []

AT_REST: Final = 0.01  # slower than this a pool does not sweep the wall [rad/s]

# places in the clock
TIME, STEP, CURED, STEPS, FAILED, LIQUID, POOL, WORST, SOLVES, ROWS, SPIN, MEAN = range(12)
# why `advance` returned
REACHED, PAUSED, GELLED, STUCK = range(4)


class Control(NamedTuple):
    """How the steps are chosen."""

    courant: float = 1.6  # share of a node's liquid that leaves in a step, weighted norm []
    turn: float = 0.06  # largest turn of the mold in a first-order step [rad]
    turn_late: float = 0.25  # the same in a second-order step [rad]
    longest: float = 0.5  # [s]
    shortest: float = 1e-6  # [s]
    cure_every: float = 0.25  # [s]
    absolute: float = 1e-5  # error allowed in a second-order step [m]
    relative: float = 1e-2  # the same as share of the mean thickness []
    tolerance: float = 1e-3  # of the linear solver []
    moving_pool: float = 0.03  # above this share of pool the steps are first order []
    until_gel: float = 1e-3  # share of liquid left at which the coat counts as gelled []


USUAL: Final = Control()  # steps of a forecast


class Frame(NamedTuple):
    """What stays the same through a coat besides wall and fluid."""

    motion: Motion
    crossing: tuple[float, float, float]  # where the axes cross [m]
    knee: float  # thickness where deep liquid saturates [m]
    thick: float  # thickness from which liquid counts as pool [m]


class Trial(NamedTuple):
    """Arrays of the second stage and of the move; n nodes, k edges."""

    flux: Floats  # (k,)
    coupling: Floats  # (k,)
    drag: Floats  # (k,)
    volume: Floats  # (n,)
    given: Floats  # (n,)
    cured: Floats  # (n,)
    heat: Floats  # (n,)


def new_trial(nodes: int, edges: int) -> Trial:
    """Empty arrays for a wall of so many nodes and edges."""
    return Trial(*(np.zeros(edges) for _ in range(3)), *(np.zeros(nodes) for _ in range(4)))


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def add_change(
    wall: Wall, system: System, coupling: Floats, drag: Floats, factor: float, flux: Floats
) -> None:
    """flux += factor [C (p_i - p_j) + D y_donor] with the change just solved for."""
    y, p, place = system.solution, system.pressure, system.place
    n = place.size
    for e in range(flux.size):
        i, j = place[wall.tail[e]], place[wall.head[e]]
        if i == n and j == n:
            continue
        donor = i if drag[e] >= 0.0 else j
        flux[e] += factor * (coupling[e] * (p[i] - p[j]) + drag[e] * y[donor])


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def net_outflow(wall: Wall, flux: Floats, net: Floats) -> None:
    """Sum of a flux over the edges of every node [m3/s]."""
    net[:] = 0.0
    for e in range(flux.size):
        net[wall.tail[e]] += flux[e]
        net[wall.head[e]] -= flux[e]


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def limit(wall: Wall, volume: Floats, flux: Floats, given: Floats, dt: float) -> float:
    """Scales fluxes so that no node gives more than it holds; gives the norm of the outflow Courant number.

    The norm is twice the volume-weighted fourth mean of dt outflow / (A v), taken before the scaling.
    """
    given[:] = 0.0
    for e in range(flux.size):
        f = flux[e]
        if f > 0.0:
            given[wall.tail[e]] += f
        else:
            given[wall.head[e]] -= f
    fourth = whole = 0.0
    for i in range(given.size):
        held = volume[i] * wall.area[i]
        out = dt * given[i]
        given[i] = 1.0
        if out > 0.0 and held > 0.0:
            c = out / held
            if c > KEPT:
                given[i] = KEPT / c
            c = min(c, 100.0)
            fourth += held * c * c * c * c
        elif out > 0.0:
            given[i] = 0.0
        whole += held
    for e in range(flux.size):
        f = flux[e]
        flux[e] = f * (given[wall.tail[e]] if f > 0.0 else given[wall.head[e]])
    if whole <= 0.0:
        return 0.0
    return 2.0 * math.sqrt(math.sqrt(fourth / whole))


@njit(cache=True, fastmath={"contract", "nsz", "arcp"})
def move(wall: Wall, film: Film, flux: Floats, trial: Trial, dt: float) -> None:
    """Moves liquid with its conversion and heat along the limited fluxes."""
    volume, cured, heat = trial.volume, trial.cured, trial.heat
    volume[:] = 0.0
    cured[:] = 0.0
    heat[:] = 0.0
    for e in range(flux.size):
        f = flux[e]
        if f == 0.0:
            continue
        i, j = wall.tail[e], wall.head[e]
        donor = i if f > 0.0 else j
        share = f / film.volume[donor]
        c = share * film.cured[donor]
        h = share * film.heat[donor]
        volume[i] -= f
        volume[j] += f
        cured[i] -= c
        cured[j] += c
        heat[i] -= h
        heat[j] += h
    for i in range(volume.size):
        rate = dt / wall.area[i]
        film.volume[i] = max(film.volume[i] + rate * volume[i], 0.0)
        film.cured[i] = max(film.cured[i] + rate * cured[i], 0.0)
        film.heat[i] = max(film.heat[i] + rate * heat[i], 0.0)


@njit(cache=True)
def stage(
    wall: Wall,
    work: Work,
    system: System,
    flux: Floats,
    coupling: Floats,
    drag: Floats,
    net: Floats,
    active: int,
    dt: float,
    tolerance: float,
    factor: float,
    clock: Floats,
) -> bool:
    """Solves A y + step L y = -dt net for the active nodes and adds factor times its flux; False if it can't."""
    for row in range(active):
        system.right[row] = -dt * net[system.node[row]]
    done = solve(system, active, tolerance)
    if done < 0:
        return False
    clock[SOLVES] += done
    clock[ROWS] += active
    change_of_pressure(system, active)
    add_change(wall, system, coupling, drag, factor, flux)
    return True


@njit(cache=True)
def euler(
    wall: Wall,
    film: Film,
    work: Work,
    system: System,
    trial: Trial,
    fluid: Fluid,
    terms: Terms,
    control: Control,
    frame: Frame,
    body: Body,
    dt: float,
    clock: Floats,
) -> float:
    """One linearly implicit Euler step; gives its Courant norm, or -1 where the system can't be solved."""
    pressures(wall, film.volume, film, work, fluid, terms, body, frame.knee)
    fluxes(
        wall, film.volume, film, work, fluid, terms, body, frame.thick, work.flux, work.coupling, work.drag
    )
    active = choose_active(wall, work, system, fluid.surface_tension, dt)
    if active > 0:
        assemble(wall, work, work.coupling, work.drag, system, active, fluid.surface_tension, dt)
        if not stage(
            wall, work, system, work.flux, work.coupling, work.drag, work.net, active, dt, control.tolerance,
            1.0, clock,
        ):  # fmt: skip
            return -1.0
    norm = limit(wall, film.volume, work.flux, trial.given, dt)
    move(wall, film, work.flux, trial, dt)
    return norm


@njit(cache=True)
def rosenbrock(
    wall: Wall,
    film: Film,
    work: Work,
    system: System,
    trial: Trial,
    fluid: Fluid,
    terms: Terms,
    control: Control,
    frame: Frame,
    body: Body,
    dt: float,
    clock: Floats,
) -> tuple[float, float]:
    """One step of ROS2; gives Courant norm (-1: not solved) and estimated error over what is allowed.

    Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20 (1999) 1456, with gamma = 1 - 1/sqrt(2); second
    order for any Jacobian. Nothing is moved where the error is above 4.
    """
    sigma, step = fluid.surface_tension, GAMMA * dt
    pressures(wall, film.volume, film, work, fluid, terms, body, frame.knee)
    fluxes(
        wall, film.volume, film, work, fluid, terms, body, frame.thick, work.flux, work.coupling, work.drag
    )
    active = choose_active(wall, work, system, sigma, step)
    if active > 0:
        assemble(wall, work, work.coupling, work.drag, system, active, sigma, step)
        if not stage(
            wall, work, system, work.flux, work.coupling, work.drag, work.net, active, dt, control.tolerance,
            GAMMA, clock,
        ):  # fmt: skip
            return -1.0, 0.0
    limit(wall, film.volume, work.flux, trial.given, dt)
    net_outflow(wall, work.flux, work.net)
    for i in range(film.volume.size):
        trial.volume[i] = max(film.volume[i] - dt / wall.area[i] * work.net[i], 0.0)
    pressures(wall, trial.volume, film, work, fluid, terms, body, frame.knee)
    fluxes(
        wall,
        trial.volume,
        film,
        work,
        fluid,
        terms,
        body,
        frame.thick,
        trial.flux,
        trial.coupling,
        trial.drag,
    )
    for e in range(trial.flux.size):
        trial.flux[e] -= 2.0 * work.flux[e]
    if active > 0:
        net_outflow(wall, trial.flux, work.net)
        if not stage(
            wall, work, system, trial.flux, work.coupling, work.drag, work.net, active, dt, control.tolerance,
            GAMMA, clock,
        ):  # fmt: skip
            return -1.0, 0.0
    for e in range(trial.flux.size):
        step_flux = 1.5 * work.flux[e] + 0.5 * trial.flux[e]
        trial.flux[e] = 0.5 * (work.flux[e] + trial.flux[e])
        work.flux[e] = step_flux
    net_outflow(wall, trial.flux, work.net)
    square = whole = 0.0
    for i in range(film.volume.size):
        change = dt / wall.area[i] * work.net[i]
        square += wall.area[i] * change * change
        whole += wall.area[i]
    error = math.sqrt(square / whole) / (control.absolute + control.relative * clock[MEAN])
    if error > 4.0:
        return 0.0, error
    norm = limit(wall, film.volume, work.flux, trial.given, dt)
    move(wall, film, work.flux, trial, dt)
    return norm, error


@njit(cache=True)
def take_stock(wall: Wall, film: Film, work: Work, frame: Frame, body: Body, clock: Floats) -> None:
    """Share of the volume that is still liquid, share that is pool, and the largest centrifugal ratio."""
    liquid = pool = whole = area = far = 0.0
    for i in range(film.volume.size):
        here = wall.area[i] * film.volume[i]
        liquid += here
        if work.thickness[i] > frame.thick:
            pool += here
        whole += here + wall.area[i] * film.solid[i]
        area += wall.area[i]
        r0 = wall.x[i, 0] - body.crossing[0]
        r1 = wall.x[i, 1] - body.crossing[1]
        r2 = wall.x[i, 2] - body.crossing[2]
        along = body.w[0] * r0 + body.w[1] * r1 + body.w[2] * r2
        spin2 = body.w[0] ** 2 + body.w[1] ** 2 + body.w[2] ** 2
        far = max(far, spin2 * (spin2 * (r0 * r0 + r1 * r1 + r2 * r2) - along * along))
    clock[LIQUID] = liquid / whole if whole > 0.0 else 0.0
    clock[POOL] = pool / whole if whole > 0.0 else 0.0
    clock[MEAN] = whole / area
    clock[SPIN] = max(clock[SPIN], math.sqrt(far) / GRAVITY)


@njit(cache=True, nogil=True)
def advance(
    wall: Wall,
    film: Film,
    work: Work,
    system: System,
    trial: Trial,
    fluid: Fluid,
    terms: Terms,
    control: Control,
    frame: Frame,
    column: Column,
    outside: Outside,
    record: Record,
    clock: Floats,
    end: float,
    most_steps: int,
) -> int:
    """Steps until `end` [s], until gelled, or for `most_steps`; the clock holds time and step in between."""
    taken = 0
    while clock[TIME] < end - 1e-9:
        if taken >= most_steps:
            return PAUSED
        t = clock[TIME]
        dt = min(clock[STEP], control.longest)
        w = angular_velocity(frame.motion, t + 0.5 * dt)
        spin = math.sqrt(w[0] ** 2 + w[1] ** 2 + w[2] ** 2)
        second = clock[POOL] <= control.moving_pool or spin < AT_REST
        most_turn = control.turn_late if second else control.turn
        if spin * dt > most_turn:
            dt = most_turn / spin
        dt = min(dt, end - t)
        body = body_at(frame.motion, t + 0.5 * dt, frame.crossing, terms.inertia)
        error = 0.0
        if second:
            norm, error = rosenbrock(
                wall, film, work, system, trial, fluid, terms, control, frame, body, dt, clock
            )
        else:
            norm = euler(wall, film, work, system, trial, fluid, terms, control, frame, body, dt, clock)
        if norm < 0.0 or error > 4.0 or not math.isfinite(norm):
            clock[FAILED] += 1.0
            clock[STEP] = 0.5 * dt
            if not math.isfinite(norm) or clock[STEP] < control.shortest:
                clock[WORST] = np.argmax(work.thickness)
                return STUCK
            continue
        taken += 1
        clock[TIME] = t + dt
        clock[STEPS] += 1.0
        growth = control.courant / max(norm, 1e-12)
        if second:
            growth = min(growth, 0.8 / math.sqrt(max(error, 1e-12)))
        wanted = clock[STEP]
        clock[STEP] = min(max(dt * growth, 0.5 * wanted), 1.3 * wanted)
        if clock[TIME] - clock[CURED] >= control.cure_every or clock[TIME] >= end - 1e-9:
            cure_and_warm(
                wall, film, work.thickness, fluid, column, outside, record, clock[TIME],
                clock[TIME] - clock[CURED],
            )  # fmt: skip
            clock[CURED] = clock[TIME]
            now = body_at(frame.motion, clock[TIME], frame.crossing, 1.0)
            take_stock(wall, film, work, frame, now, clock)
            if clock[LIQUID] <= control.until_gel:
                return GELLED
    return REACHED
