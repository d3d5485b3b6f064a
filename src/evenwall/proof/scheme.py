"""What holds for every flow: volume, falling energy, independence of axes and numbers, a second solver, orders."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from scipy.integrate import solve_ivp
from scipy.spatial.transform import Rotation

from evenwall.film.coat import Checkpoint, level_pool, run_coat, saturation_thickness, thicknesses
from evenwall.film.fluid import Terms, constant_fluid
from evenwall.film.operators import Wall, build_wall
from evenwall.film.state import Floats
from evenwall.film.steps import USUAL, Control
from evenwall.geometry.surface import Surface
from evenwall.proof.film import HONEY, HUPPERT, MOFFATT, PLAIN, TAKAGI, moffatt_profile, slope_current
from evenwall.proof.shapes import ball, tube
from evenwall.proof.table import Row
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import constant, still

RESIN: Final = constant_fluid(viscosity=0.3, density=1050.0, surface_tension=0.035)
DOWN: Final = (0.0, 0.0, -1.0)
STEPS: Final = {
    "steps of a sweeping pool": Control(moving_pool=-1.0),
    "late steps": USUAL,
}
KEPT: Final = "conservation of volume: what leaves a place arrives at another"
FALLS: Final = "gradient flow of the stated energy: dE/dt = -sum of M (grad Psi)^2, never above 0"
SAME: Final = "a flow depends neither on how the axes lie nor on how the nodes are numbered"
LINES: Final = "method of lines: the same equations written out in numpy, integrated by scipy's BDF"


def rows(*, full: bool) -> Iterator[Row]:
    """Checks of the scheme; `full` adds a refinement to each order."""
    yield kept_volume()
    yield from falling_energy()
    yield from same_answer()
    yield by_lines()
    finest = 4 if full else 3
    yield order("film in a turning tube", [_rimming(24 << k) for k in range(finest + 1)], 2.0, source=MOFFATT)
    yield order(
        "film that drains in a ball", [_drained(1 + k) for k in range(finest + 1)], 2.0, source=TAKAGI
    )
    fronts = [slope_current(8e-3 / 2**k) for k in range(finest + 1)]
    late = [abs(got / front - 1.0) for front, got, _ in fronts]
    yield order("front of a slope current", late, 1.0, source=HUPPERT)


def kept_volume() -> Row:
    """A pool that sweeps a turning ball for 10 s, in both kinds of steps."""
    wall = build_wall(ball(0.05, rounds=3))
    poured = level_pool(wall, 60e-6, DOWN)
    run = run_coat(wall, RESIN, constant(frame_rate=1.05, cradle_rate=0.65), volume=poured, until=10.0)
    return _nought("volume lost by a pool that sweeps a ball for 10 s", run.volume_error, 1e-10, source=KEPT)


def falling_energy() -> Iterator[Row]:
    """A film in waves and a pool let go on the side of a ball: the largest rise of energy over its whole fall."""
    wall = build_wall(ball(0.05, rounds=3))
    waves = 8e-4 * (1.0 + 0.5 * np.sin(300.0 * wall.x[:, 0]) * np.cos(200.0 * wall.x[:, 1]))
    pool = level_pool(wall, 20e-6, (0.8, 0.0, -0.6))
    for name, start, until in (("film in waves", waves, 1.6), ("pool on the side of a ball", pool, 4.0)):
        for steps, control in STEPS.items():
            kept: list[Checkpoint] = []
            run_coat(
                wall, RESIN, constant(frame_rate=0.0, cradle_rate=0.02), volume=start, until=until,
                terms=Terms(inertia=0.0, drops=0.0), control=control, snapshots=np.linspace(0.0, until, 17), keep=kept,
            )  # fmt: skip  # turned about the plumb line so slowly that gravity stays where it is
            levels = [energy(wall, start), *(energy(wall, one.film.volume) for one in kept)]
            risen = max(float(np.max(np.diff(levels))), 0.0) / (levels[0] - levels[-1])
            yield _nought(f"rise of the energy of a {name}, {steps}", risen, 1e-6, source=FALLS)


def energy(wall: Wall, volume: Floats) -> float:
    """Weight and surface of `volume` (n,) [m] at rest [J]: the energy whose change per volume is the pressure Psi.

    Holds for nodes that are not nearly full: what bounds those is left out.
    """
    rho, sigma = RESIN.density, RESIN.surface_tension
    knee = saturation_thickness(RESIN)
    h = thicknesses(wall, volume)
    pull = -GRAVITY * wall.normal[:, 2]
    points, shares = np.polynomial.legendre.leggauss(200)
    s = 0.5 * (points[:, None] + 1.0) * h  # from the wall up through the film
    slope = 1.0 - s * (2.0 * wall.mean - s * wall.gauss)
    weight = -rho * pull * np.where(pull > 0.0, bent(s, knee), s)
    across = 0.5 * h * (shares @ (weight * slope))
    f = bent(h, knee)
    own = rho * GRAVITY * wall.x[:, 2] * volume + across + sigma * (wall.gauss * f**2 - 2.0 * wall.mean * f)
    return float(wall.area @ own + 0.5 * sigma * wall.weight @ (f[wall.tail] - f[wall.head]) ** 2)


def bent(h: Floats, knee: float) -> Floats:
    """h [m] up to the `knee` [m], above it bending toward twice that."""
    over = np.maximum(h - knee, 0.0) / knee
    return np.where(h <= knee, h, knee * (1.0 + over / (1.0 + over)))


def same_answer() -> Iterator[Row]:
    """One ball in other axes and with its nodes in another order: at rest in any attitude, turning about z."""
    surface = ball(0.05, rounds=3)
    order = np.random.default_rng(3).permutation(len(surface.vertices))
    back = np.argsort(order)
    start = 1e-3 * (1.0 + 0.3 * surface.vertices[:, 0] / 0.05)
    tilt, round_z = 1.1, 0.7
    poses = (
        ("at rest", still(), still(frame_angle=tilt, cradle_angle=round_z), tilt),
        ("while it turns", constant(frame_rate=1.05, cradle_rate=0.0),
         constant(frame_rate=1.05, cradle_rate=0.0, cradle_angle=round_z), 0.0),
    )  # fmt: skip
    for name, motion, other_motion, angle in poses:
        # room = R_x(angle) R_z(round_z) mold: the other mold's axes are turned back by that
        turn = (Rotation.from_euler("x", angle) * Rotation.from_euler("z", round_z)).inv().as_matrix()
        other = Surface(surface.vertices[order] @ turn.T, back[surface.faces])
        first = run_coat(build_wall(surface), RESIN, motion, volume=start, until=6.0)
        second = run_coat(build_wall(other), RESIN, other_motion, volume=start[order], until=6.0)
        off = float(np.abs(second.thickness[back] - first.thickness).max()) / float(first.thickness.mean())
        yield _nought(
            f"film {name} in other axes and with other numbers: largest departure", off, 1e-6, source=SAME
        )


def by_lines() -> Row:
    """A film with waves in a ball of 162 nodes that runs down for 2.5 s."""
    wall = build_wall(ball(0.05, rounds=2), curved=False)
    start = 1e-3 * (1.0 + 0.3 * wall.x[:, 0] / 0.05)
    fluid = constant_fluid(viscosity=1.0, density=1000.0, surface_tension=0.03)
    terms = Terms(wall_curvature=0.0, inertia=0.0, second_order=0.0)
    n, i, j = len(start), wall.tail.astype(int), wall.head.astype(int)
    down = np.array([0.0, 0.0, -GRAVITY])

    def flow(_: float, v: Floats) -> Floats:
        h = np.maximum(v, 0.0)
        pull = wall.weight * (h[i] - h[j])
        bend = (np.bincount(i, pull, n) - np.bincount(j, pull, n)) / wall.area
        psi = 1000.0 * (-(wall.x @ down) - (wall.normal @ down) * h) + 0.03 * bend
        drop = psi[i] - psi[j]
        donor = np.where(drop >= 0.0, h[i], h[j])
        q = wall.weight * donor**3 / (3.0 + donor**2 / terms.mobility_cap) * drop
        return np.asarray(-(np.bincount(i, q, n) - np.bincount(j, q, n)) / wall.area)

    expected = solve_ivp(flow, (0.0, 2.5), start, method="BDF", rtol=1e-7, atol=1e-11).y[:, -1]
    got = run_coat(wall, fluid, still(), volume=start, until=2.5, terms=terms)
    off = float(wall.area @ np.abs(got.film.volume - expected)) / float(wall.area @ expected)
    return _nought(
        "film that runs down in a ball, by another integrator: mean departure", off, 0.01, source=LINES
    )


def order(case: str, errors: Sequence[float], claimed: float, *, source: str) -> Row:
    """The mean order of convergence of `errors` on meshes each twice as fine as the one before."""
    seen = math.log2(errors[0] / errors[-1]) / (len(errors) - 1)
    return Row(
        check=f"order of convergence in space over {len(errors) - 1} refinements: {case}", expected=claimed, got=seen,
        unit="", tolerance=0.02 * claimed, source=source, status="published", at_least=True,
    )  # fmt: skip


def _rimming(around: int) -> float:
    """Mean departure [] from Moffatt's profile at Q = 0.5 after half a turn."""
    radius, rate = 0.05, 2.0 * math.pi / 6.0
    scale = math.sqrt(1e-3 * radius * rate / GRAVITY)
    wall = build_wall(tube(radius, around, uneven=0.0), curved=False)
    theta = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    exact = moffatt_profile(0.5, theta)
    run = run_coat(
        wall, HONEY, constant(frame_rate=rate, cradle_rate=0.0), volume=scale * exact, until=3.0, terms=PLAIN,
        control=Control(turn_late=0.6 / around),
    )  # fmt: skip
    turned = moffatt_profile(0.5, theta + math.pi)
    return float(wall.area @ np.abs(run.thickness / scale - turned)) / float(wall.area @ exact)


def _drained(rounds: int) -> float:
    """Mean departure [] from the drained profile of the upper half of a ball after 20 s."""
    radius, even, after = 0.05, 2e-3, 20.0
    wall = build_wall(ball(radius, rounds=rounds), curved=False)
    run = run_coat(wall, HONEY, still(), volume=np.full(len(wall.area), even), until=after, terms=PLAIN)
    theta = np.arccos(np.clip(wall.x[:, 2] / radius, -1.0, 1.0))
    upper = theta < 0.5 * math.pi
    exact = even * drained_share(theta[upper], GRAVITY * even**2 * after / (1e-3 * radius))
    area = wall.area[upper]
    return float(area @ np.abs(run.thickness[upper] - exact)) / float(area @ exact)


def drained_share(theta: Floats, flowed: float) -> Floats:
    """h/h0 at `theta` (n,) [rad] under the top of a ball, for flowed = g h0^2 t/(nu R) [].

    Takagi and Huppert's equation by characteristics: h sin^(2/3)(theta) stays along
    int sin^(1/3) d theta = flowed sin^(4/3)(theta_0) from the place theta_0 where the liquid was at first.
    """
    place = 3.0 * np.linspace(0.0, 1.0, 40_001) ** 2
    mid = 0.5 * (place[1:] + place[:-1])
    run = np.concatenate([[0.0], np.cumsum(np.sin(mid) ** (1.0 / 3.0) * np.diff(place))])
    first = place[1:][place[1:] < 2.0]
    wanted = np.interp(first, place, run) + flowed * np.sin(first) ** (4.0 / 3.0)
    now = np.interp(wanted, run, place)
    share = (np.sin(first) / np.sin(now)) ** (2.0 / 3.0)
    return np.asarray(np.interp(theta, now[wanted < run[-1]], share[wanted < run[-1]]))


def _nought(check: str, got: float, tolerance: float, *, source: str) -> Row:
    return Row(
        check=check, expected=0.0, got=got, unit="", tolerance=tolerance, source=source, status="published"
    )
