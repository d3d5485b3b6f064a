"""One step of the film: linearly implicit, written as fluxes, so that volume is exact and nothing goes below 0.

Every thread of the team goes through the same step; each keeps a clock of its own, and all clocks agree.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from numba import njit

from evenwall.film.fluid import Fluid, Terms
from evenwall.film.flux import Body, Film, Work, fluxes, pressures, sum_up
from evenwall.film.implicit import System, assemble, choose_active, solve
from evenwall.film.moving import Trial, add_change, limit, move, net_outflow
from evenwall.film.operators import Wall
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole
from evenwall.turning.kinematics import Motion

GAMMA: Final = 1.0 - 1.0 / math.sqrt(2.0)

# places in the clock
TIME, STEP, CURED, STEPS, FAILED, LIQUID, POOL, WORST, SOLVES, ROWS, SPIN, MEAN, FLOW = range(13)
PLACES: Final = 13
# rows of the team's partial sums
SQUARE, AREA = range(2, 4)


class Control(NamedTuple):
    """How the steps are chosen."""

    courant: float = 0.8  # share of a node's liquid that leaves in a step, weighted norm []
    turn: float = 0.03  # largest turn of the mold in a first-order step [rad]
    turn_late: float = 0.25  # the same in a second-order step [rad]
    stretch_quiet: float = 2.4  # that turn is stretched by this where next to nothing flows []
    quiet: float = 0.2  # Courant norm per radian of turning below which next to nothing flows [1/rad]
    longest: float = 0.6  # [s]
    shortest: float = 1e-6  # [s]
    cure_every: float = 0.25  # [s]
    absolute: float = 1e-5  # error allowed in a second-order step [m]
    relative: float = 1e-2  # the same as share of the mean thickness []
    tolerance: float = 1e-3  # of the linear solver []
    moving_pool: float = 0.03  # above this share of pool the steps are first order []
    until_gel: float = 1e-3  # share of liquid left at which the coat counts as gelled []


USUAL: Final = Control()  # steps of a forecast


def shorter(control: Control, share: float) -> Control:
    """The same control with steps of `share` [] of their length, by every rule that bounds them.

    Example: shorter(USUAL, 0.5) halves the steps, to see what they leave open.
    """
    return control._replace(
        courant=control.courant * share,
        turn=control.turn * share,
        turn_late=control.turn_late * share,
        longest=control.longest * share,
        cure_every=control.cure_every * share,
        absolute=control.absolute * share * share,  # the embedded error goes with the square of the step
        relative=control.relative * share * share,
    )


class Frame(NamedTuple):
    """What stays the same through a coat besides wall and fluid."""

    motion: Motion
    crossing: tuple[float, float, float]  # where the axes cross [m]
    knee: float  # thickness where deep liquid saturates [m]
    thick: float  # thickness from which liquid counts as pool [m]


class Coating(NamedTuple):
    """All that the steps of one coat go by; what they change they change in place."""

    wall: Wall
    film: Film
    work: Work
    system: System
    trial: Trial
    fluid: Fluid
    terms: Terms
    control: Control
    frame: Frame


@njit(cache=True)
def stage(
    team: Team, coating: Coating, flux: Floats, active: int, dt: float, factor: float, clock: Floats
) -> bool:
    """Solves A y + step L y = -dt net for the active nodes and adds factor times its flux; False if it can't."""
    work, system = coating.work, coating.system
    first, last = share(team, active)
    for row in range(first, last):
        system.right[row] = -dt * work.net[system.node[row]]
    meet(team)
    done = solve(team, system, active, coating.control.tolerance)
    if done < 0:
        return False
    clock[SOLVES] += done
    clock[ROWS] += active
    add_change(team, coating.wall, system, work.coupling, work.drag, factor, flux)
    return True


@njit(cache=True)
def first_stage(team: Team, coating: Coating, body: Body, dt: float, gamma: float, clock: Floats) -> int:
    """Fluxes of the film as it is, with `gamma` times their change in an implicit stage of gamma dt.

    Gives the number of active nodes, -1 where the system can't be solved.
    """
    wall, film, work, fluid = coating.wall, coating.film, coating.work, coating.fluid
    sigma, step = fluid.surface_tension, gamma * dt
    pressures(team, wall, film.volume, film, work, fluid, coating.terms, body, coating.frame.knee)
    fluxes(
        team, wall, film.volume, film, work, fluid, coating.terms, body, coating.frame.thick,
        work.flux, work.coupling, work.drag,
    )  # fmt: skip
    sum_up(team, wall, work)
    active = choose_active(team, wall, work, coating.system, sigma, step)
    if active > 0:
        assemble(team, wall, work, coating.system, active, sigma, step)
        if not stage(team, coating, work.flux, active, dt, gamma, clock):
            return -1
    return active


@njit(cache=True)
def euler(team: Team, coating: Coating, body: Body, dt: float, clock: Floats) -> float:
    """One linearly implicit Euler step; gives its Courant norm, or -1 where the system can't be solved."""
    wall, film, work, trial = coating.wall, coating.film, coating.work, coating.trial
    if first_stage(team, coating, body, dt, 1.0, clock) < 0:
        return -1.0
    norm = limit(team, wall, film.volume, work.flux, trial.given, dt)
    move(team, wall, film, work.flux, trial, dt)
    return norm


@njit(cache=True)
def rosenbrock(team: Team, coating: Coating, body: Body, dt: float, clock: Floats) -> tuple[float, float]:
    """One step of ROS2; gives Courant norm (-1: not solved) and estimated error over what is allowed.

    Verwer, Spee, Blom & Hundsdorfer, SIAM J. Sci. Comput. 20 (1999) 1456, with gamma = 1 - 1/sqrt(2); second
    order for any Jacobian. Nothing is moved where the error is above 4.
    """
    wall, film, work, trial, control = (
        coating.wall,
        coating.film,
        coating.work,
        coating.trial,
        coating.control,
    )
    active = first_stage(team, coating, body, dt, GAMMA, clock)
    if active < 0:
        return -1.0, 0.0
    limit(team, wall, film.volume, work.flux, trial.given, dt)
    net_outflow(team, wall, work.flux, work.net)
    first, last = share(team, film.volume.size)
    for i in range(first, last):
        trial.volume[i] = max(film.volume[i] - dt / wall.area[i] * work.net[i], 0.0)
    pressures(team, wall, trial.volume, film, work, coating.fluid, coating.terms, body, coating.frame.knee)
    fluxes(
        team, wall, trial.volume, film, work, coating.fluid, coating.terms, body, coating.frame.thick,
        trial.flux, trial.coupling, trial.drag,
    )  # fmt: skip
    start, end = share(team, trial.flux.size)
    for e in range(start, end):
        trial.flux[e] -= 2.0 * work.flux[e]
    meet(team)
    if active > 0:
        net_outflow(team, wall, trial.flux, work.net)
        if not stage(team, coating, trial.flux, active, dt, GAMMA, clock):
            return -1.0, 0.0
    for e in range(start, end):
        step_flux = 1.5 * work.flux[e] + 0.5 * trial.flux[e]
        trial.flux[e] = 0.5 * (work.flux[e] + trial.flux[e])
        work.flux[e] = step_flux
    meet(team)
    net_outflow(team, wall, trial.flux, work.net)
    error = mean_change(team, wall, work.net, dt) / (control.absolute + control.relative * clock[MEAN])
    if error > 4.0:
        return 0.0, error
    norm = limit(team, wall, film.volume, work.flux, trial.given, dt)
    move(team, wall, film, work.flux, trial, dt)
    return norm, error


@njit(cache=True)
def mean_change(team: Team, wall: Wall, net: Floats, dt: float) -> float:
    """Root mean square over the wall [m] of the change of volume per area in `dt` [s] by a net outflow."""
    n = net.size
    low, high = blocks(team)
    for block in range(low, high):
        square = area = 0.0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            change = dt / wall.area[i] * net[i]
            square += wall.area[i] * change * change
            area += wall.area[i]
        team.sums[SQUARE, block] = square
        team.sums[AREA, block] = area
    meet(team)
    mean = math.sqrt(whole(team, SQUARE) / whole(team, AREA))
    meet(team)
    return mean
