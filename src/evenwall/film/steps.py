"""One step of the film: linearly implicit, written as fluxes, so that volume is exact and nothing goes below 0.

Every thread of the team goes through the same step; each keeps a clock of its own, and all clocks agree.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from numba import njit

from evenwall.film.fluid import Fluid, Terms
from evenwall.film.flux import Body, Film, Work, fluxes, pressures, sum_up
from evenwall.film.implicit import System, assemble, assemble_patches, choose_active
from evenwall.film.mixing import mix
from evenwall.film.moving import Trial, add_change, limit, move, net_outflow
from evenwall.film.operators import Wall
from evenwall.film.solver import MOST_ITERATIONS, solve
from evenwall.film.state import Floats
from evenwall.film.team import BLOCKS, Team, blocks, meet, share, whole
from evenwall.turning.kinematics import Motion

GAMMA: Final = 1.0 - 1.0 / math.sqrt(2.0)
LONGEST_RATIO: Final = 2.0  # of a step to the one before in its coefficients; BDF2 is stable up to 2.4
LEAD: Final = 0.1  # share of its liquid by which a node is thought to change before a step is solved for []
CROSSINGS: Final = 3  # times that a step is solved again where nodes pass their brims
CROSSED: Final = 1e-4  # by which a node passes its brim before that matters [m]
BESIDE: Final = 1e-12  # share of its room by which a node that is not full stays under its brim []

# places in the clock
TIME, STEP, CURED, STEPS, FAILED, LIQUID, POOL, WORST, SOLVES, ROWS, SPIN, MEAN, FLOW = range(13)
PATCHED, LATEST, BEFORE, FULL, ROUGH, RIPENS = range(13, 19)
PLACES: Final = 19
SLOW, QUICK = 12, 3  # iterations of the latest solve above which patches pay, and go on paying
# rows of the team's partial sums
SQUARE, AREA, COUNT = range(2, 5)


class Control(NamedTuple):
    """How the steps are chosen."""

    courant: float = (
        2.0  # share of a node's liquid that leaves in a step while a pool sweeps, weighted norm []
    )
    courant_late: float = 1.0  # the same later []
    turn: float = 0.03  # largest turn of the mold in a step while a pool sweeps the wall [rad]
    turn_late: float = 0.25  # the same later [rad]
    stretch_quiet: float = 2.4  # that turn is stretched by this where next to nothing flows []
    quiet: float = 0.2  # Courant norm per radian of turning below which next to nothing flows [1/rad]
    longest: float = 0.6  # [s]
    shortest: float = 1e-6  # [s]
    cure_every: float = 0.25  # longest step of cure and heat where liquid flows [s]
    cure_turn: float = 0.1  # largest turn of the mold in one then, since a pool takes its heat along [rad]
    cure_quiet: float = 4.0  # the longest is stretched by this where next to nothing flows []
    cure_gain: float = 0.005  # largest gain of conversion in one []
    absolute: float = 1e-5  # error allowed in a late step [m]
    relative: float = 1e-2  # the same as share of the mean thickness []
    tolerance: float = 1e-3  # of the linear solver []
    moving_pool: float = 0.03  # above this share of pool it sweeps the wall []
    until_gel: float = 1e-3  # share of liquid left at which the coat counts as gelled []


USUAL: Final = Control()  # steps of a forecast


def shorter(control: Control, share: float) -> Control:
    """The same control with steps of `share` [] of their length, by every rule that bounds them.

    Example: shorter(USUAL, 0.5) halves the steps, to see what they leave open.
    """
    return control._replace(
        courant=control.courant * share,
        courant_late=control.courant_late * share,
        turn=control.turn * share,
        turn_late=control.turn_late * share,
        longest=control.longest * share,
        cure_every=control.cure_every * share,
        cure_turn=control.cure_turn * share,
        cure_gain=control.cure_gain * share,
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
def solved(team: Team, coating: Coating, active: int, begun: float, clock: Floats) -> float:
    """Solves A y + step L y = right for the active nodes, see `solve`; gives the right side's square, else -1."""
    system = coating.system
    meet(team)
    done, square = solve(team, system, active, coating.control.tolerance, clock[PATCHED] > 0.0, begun)
    if begun == 0.0 or done < 0:
        clock[LATEST] = done if done >= 0 else MOST_ITERATIONS
    if done < 0:
        return -1.0
    clock[SOLVES] += done
    clock[ROWS] += active
    return square


@njit(cache=True)
def flow_of(
    team: Team, coating: Coating, body: Body, volume: Floats, flux: Floats, coupling: Floats, drag: Floats
) -> None:
    """Flux, coupling and drag of every edge for liquid of `volume` (n,) [m] per wall area."""
    wall, film, work = coating.wall, coating.film, coating.work
    fluid, terms, frame = coating.fluid, coating.terms, coating.frame
    pressures(team, wall, volume, film, work, fluid, terms, body, frame.knee)
    fluxes(team, wall, volume, film, work, fluid, terms, body, frame.thick, flux, coupling, drag)


@njit(cache=True)
def set_up(team: Team, coating: Coating, step: float, clock: Floats) -> int:
    """The linear system of an implicit stage of `step` [s] at the fluxes in `work`; gives its active nodes' number."""
    wall, work, system = coating.wall, coating.work, coating.system
    sigma = coating.fluid.surface_tension
    sum_up(team, wall, work)
    active = choose_active(team, wall, work, system, sigma, step)
    if active > 0:
        assemble(team, wall, work, system, active, sigma, step)
        clock[PATCHED] = 1.0 if clock[LATEST] > (QUICK if clock[PATCHED] > 0.0 else SLOW) else 0.0
        if clock[PATCHED] > 0.0:
            assemble_patches(team, system)
    return active


@njit(cache=True)
def ahead(team: Team, coating: Coating, flux: Floats, dt: float) -> None:
    """What `flux` makes of the film in `dt` [s], in `trial.volume`; no meeting at its end."""
    film, wall, work, trial = coating.film, coating.wall, coating.work, coating.trial
    net_outflow(team, wall, flux, work.net)
    first, last = share(team, film.volume.size)
    for i in range(first, last):
        trial.volume[i] = max(film.volume[i] - dt / wall.area[i] * work.net[i], 0.0)


@njit(cache=True)
def moved(team: Team, coating: Coating, dt: float, clock: Floats) -> float:
    """Moves the liquid along the fluxes in `work`, limited, and remembers them; gives their Courant norm."""
    film, work, trial = coating.film, coating.work, coating.trial
    norm, short = limit(team, coating.wall, film.volume, work.flux, trial, dt)
    move(team, coating.wall, film, work.flux, trial, dt, short, coating.fluid.viscosity)
    mix(team, coating.wall, film, work.depth, work.flux, trial, dt)
    first, last = share(team, work.flux.size)
    for e in range(first, last):
        trial.before[e] = work.flux[e]
    meet(team)
    clock[BEFORE] = dt
    return norm


@njit(cache=True)
def beside_brim(room: float, full: bool) -> float:
    """Liquid per area [m] of a node at its brim, with `room` [m] up to there, on the side that is `full` or not."""
    return room if full else (1.0 - BESIDE) * room


@njit(cache=True)
def backward(team: Team, coating: Coating, body: Body, dt: float, clock: Floats) -> float:
    """One linearly implicit step of BDF2; gives its Courant norm, or -1 where the system can't be solved.

    With w = dt over the step before, b = (1 + w)/(1 + 2 w) and f the flux of the step before, the step's flux is
    b F(v + y) + (1 - b) f. F is made linear around v*, what f would make of the film, so only what is left,
    z = v + y - v*, is solved for: A z + b dt div(J z) = -dt div(b F(v*) + (1 - b) f) - A (v* - v). Extrapolated BDF2:
    Ascher, Ruuth & Wetton, SIAM J. Numer. Anal. 32 (1995) 797. Where nothing was before, it is Euler's step.
    """
    wall, film, work, trial = coating.wall, coating.film, coating.work, coating.trial
    ratio = min(dt / clock[BEFORE], LONGEST_RATIO) if clock[BEFORE] > 0.0 else 0.0
    new = (1.0 + ratio) / (1.0 + 2.0 * ratio)
    ahead(team, coating, trial.before, dt)
    first, last = share(team, film.volume.size)
    for i in range(first, last):
        room = wall.brim[i] - film.solid[i]
        full, comes_full = film.volume[i] >= room, trial.volume[i] >= room
        if full == comes_full:
            least, most = (1.0 - LEAD) * film.volume[i], (1.0 + LEAD) * film.volume[i]
            trial.volume[i] = min(max(trial.volume[i], least), most)
        else:
            trial.volume[i] = beside_brim(room, comes_full)
    begun = 0.0
    for again in range(CROSSINGS + 1):
        flow_of(team, coating, body, trial.volume, work.flux, work.coupling, work.drag)
        active = set_up(team, coating, new * dt, clock)
        first, last = share(team, work.flux.size)
        for e in range(first, last):
            work.flux[e] = new * work.flux[e] + (1.0 - new) * trial.before[e]
        meet(team)
        if active == 0:
            break
        net_outflow(team, wall, work.flux, work.net)
        square = backward_stage(team, coating, active, dt, begun, clock)
        if square < 0.0:
            return -1.0
        begun = max(begun, square)
        if again == CROSSINGS or crossed(team, coating, active) == 0.0:
            add_change(team, wall, coating.system, work.coupling, work.drag, new, work.flux)
            break
    return moved(team, coating, dt, clock)


@njit(cache=True)
def backward_stage(
    team: Team, coating: Coating, active: int, dt: float, begun: float, clock: Floats
) -> float:
    """Solves a stage of BDF2 for the net outflow in `work`; see `solved`."""
    film, trial, system = coating.film, coating.trial, coating.system
    first, last = share(team, active)
    for row in range(first, last):
        i = system.node[row]
        ahead_by = trial.volume[i] - film.volume[i]
        system.right[row] = -dt * coating.work.net[i] - coating.wall.area[i] * ahead_by
    return solved(team, coating, active, begun, clock)


@njit(cache=True)
def crossed(team: Team, coating: Coating, active: int) -> float:
    """How many nodes a solution carries over their brim, either way; if any, all go where it carries them.

    Those that cross stop at the brim. Psi bends there, and what was solved for went on along the slope of the wrong
    side (Brugnano & Casulli, SIAM J. Sci. Comput. 30 (2008) 463, whose iteration goes on till no node changes sides).
    """
    wall, film, trial, system = coating.wall, coating.film, coating.trial, coating.system
    low, high = blocks(team)
    for block in range(low, high):
        count = 0
        for row in range(active * block // BLOCKS, active * (block + 1) // BLOCKS):
            i = system.node[row]
            room = wall.brim[i] - film.solid[i]
            over = trial.volume[i] + system.solution[row] - room
            count += over < -CROSSED if trial.volume[i] >= room else over > CROSSED
        team.sums[COUNT, block] = count
    meet(team)
    passed = whole(team, COUNT)
    meet(team)
    if passed > 0.0:
        first, last = share(team, active)
        for row in range(first, last):
            i = system.node[row]
            room = wall.brim[i] - film.solid[i]
            then = max(trial.volume[i] + system.solution[row], 0.0)
            if (trial.volume[i] >= room) == (then >= room):
                trial.volume[i] = then
            else:
                trial.volume[i] = beside_brim(room, then >= room)
        meet(team)
    return passed


@njit(cache=True)
def outflow_stage(team: Team, coating: Coating, flux: Floats, active: int, dt: float, clock: Floats) -> bool:
    """A stage of ROS2 for the net outflow in `work`, added to `flux`."""
    first, last = share(team, active)
    for row in range(first, last):
        coating.system.right[row] = -dt * coating.work.net[coating.system.node[row]]
    if solved(team, coating, active, 0.0, clock) < 0.0:
        return False
    work = coating.work
    add_change(team, coating.wall, coating.system, work.coupling, work.drag, GAMMA, flux)
    return True


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
    flow_of(team, coating, body, film.volume, work.flux, work.coupling, work.drag)
    active = set_up(team, coating, GAMMA * dt, clock)
    if active > 0 and not outflow_stage(team, coating, work.flux, active, dt, clock):
        return -1.0, 0.0
    limit(team, wall, film.volume, work.flux, trial, dt)
    ahead(team, coating, work.flux, dt)
    flow_of(team, coating, body, trial.volume, trial.flux, trial.coupling, trial.drag)
    first, last = share(team, trial.flux.size)
    for e in range(first, last):
        trial.flux[e] -= 2.0 * work.flux[e]
    meet(team)
    if active > 0:
        net_outflow(team, wall, trial.flux, work.net)
        if not outflow_stage(team, coating, trial.flux, active, dt, clock):
            return -1.0, 0.0
    for e in range(first, last):
        step_flux = 1.5 * work.flux[e] + 0.5 * trial.flux[e]
        trial.flux[e] = 0.5 * (work.flux[e] + trial.flux[e])
        work.flux[e] = step_flux
    meet(team)
    net_outflow(team, wall, trial.flux, work.net)
    allowed = control.absolute + control.relative * clock[MEAN]
    error = mean_change(team, wall, work.net, dt, clock[MEAN]) / allowed
    if error > 4.0:
        return 0.0, error
    return moved(team, coating, dt, clock), error


@njit(cache=True)
def mean_change(team: Team, wall: Wall, net: Floats, dt: float, most: float) -> float:
    """Root mean square over the wall [m] of the change of volume per area in `dt` [s] by a net outflow.

    No node counts for more than `most` [m]: one that fills and empties, which the limiter bounds, is not the wall.
    """
    n = net.size
    low, high = blocks(team)
    for block in range(low, high):
        square = area = 0.0
        for i in range(n * block // BLOCKS, n * (block + 1) // BLOCKS):
            change = min(abs(dt / wall.area[i] * net[i]), most)
            square += wall.area[i] * change * change
            area += wall.area[i]
        team.sums[SQUARE, block] = square
        team.sums[AREA, block] = area
    meet(team)
    mean = math.sqrt(whole(team, SQUARE) / whole(team, AREA))
    meet(team)
    return mean
