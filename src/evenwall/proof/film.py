"""Published flows of thin films, run through the same code as a forecast."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from evenwall.film.coat import run_coat, volumes
from evenwall.film.fluid import Fluid, Terms, constant_fluid
from evenwall.film.operators import Wall, build_wall
from evenwall.film.state import Floats
from evenwall.film.steps import Control, shorter
from evenwall.film.warming import react
from evenwall.proof.shapes import ball, plate, tube
from evenwall.proof.table import Row, within
from evenwall.resin.cure import CureLaw
from evenwall.resin.viscosity import ViscosityLaw, viscosity
from evenwall.turning.kinematics import GRAVITY as G
from evenwall.turning.patterns import constant, still

PRECISE: Final = Control(relative=1e-6, absolute=1e-10)
PLAIN: Final = Terms(normal_gravity=0.0, wall_curvature=0.0, inertia=0.0, mobility_cap=math.inf)
HONEY: Final = constant_fluid(viscosity=1.0, density=1000.0)  # the liquid of most of these cases
HUPPERT: Final = "Huppert, Nature 300 (1982) 427, similarity solution"
NUSSELT: Final = "Nusselt (1916), in Bird, Stewart & Lightfoot, sect. 2.2 (from memory)"
JEFFREYS: Final = "Jeffreys, Proc. Camb. Phil. Soc. 26 (1930) 204"
MOFFATT: Final = "Moffatt, J. Mecanique 16 (1977) 651: Q = H - H^3 cos(theta)/3"
TAKAGI: Final = "Takagi & Huppert, J. Fluid Mech. 647 (2010) 221; recomputed by quadrature"
LEE: Final = "Lee et al., Nature Communications 7 (2016) 11155, for any viscosity history"
CEILING: Final = "Fermigier et al., J. Fluid Mech. 236 (1992) 349; lambda = 2 pi sqrt(2) l_c"


def rows(*, full: bool) -> Iterator[Row]:
    """Checks of the flow; `full` adds finer meshes."""
    yield nusselt()
    yield from huppert(spacing=1e-3 if full else 2e-3)
    yield jeffreys()
    for load in (0.1, 0.3, 0.5, 0.6):
        yield from moffatt(load, around=256 if full else 128)
    yield from drained_tube()
    yield from drained_ball(rounds=5 if full else 4)
    yield cured_ball()
    yield from ceiling()
    yield from overfull()


def nusselt() -> Row:
    """Flux of an even film down an upright plate."""
    wall = build_wall(plate(0.2, 4e-3), curved=False)
    even = np.full(len(wall.area), 1e-3)
    run = run_coat(
        wall, HONEY, still(frame_angle=-math.pi / 2),
        volume=even, until=2.0, terms=PLAIN,
    )  # fmt: skip
    below = wall.x[:, 1] > 0.1
    width = float(wall.area.sum()) / 0.2
    gained = float(wall.area[below] @ (run.film.volume - even)[below])
    return within(
        "flux of a 1 mm film down an upright plate", G * 1e-9 / 3e-3, gained / width / 2.0, 0.01,
        unit="m2/s", source=NUSSELT, status="from memory",
    )  # fmt: skip


def huppert(*, spacing: float) -> Iterator[Row]:
    """A block of liquid let go on a slope of 30 degrees."""
    front, got, off = slope_current(spacing)
    yield within("front of a slope current after 60 s", front, got, 0.01, unit="m", source=HUPPERT)
    yield Row(
        check="profile of a slope current after 60 s: mean departure", expected=0.0, got=off,
        unit="", tolerance=0.02, source=HUPPERT, status="published",
    )  # fmt: skip


def slope_current(spacing: float) -> tuple[float, float, float]:
    """That block's front [m] after 60 s as published, as computed on nodes so far apart, and the mean departure []."""
    wall = build_wall(plate(0.25, spacing), curved=False)
    y, area, until = wall.x[:, 1], 1e-4, 60.0
    start = volumes(wall, np.where(y <= 0.02, 5e-3, 0.0))
    width = float(wall.area.sum()) / 0.25
    start *= area * width / float(wall.area @ start)
    run = run_coat(
        wall, HONEY, still(frame_angle=-math.pi / 6),
        volume=start, until=until, terms=PLAIN,
    )  # fmt: skip
    k = G * 0.5 / 1e-3
    front = (9.0 * area**2 * k * until / 4.0) ** (1.0 / 3.0)
    exact = np.where(y < front, np.sqrt(np.maximum(y, 0.0) / (k * until)), 0.0)
    off = float(wall.area @ np.abs(run.thickness - exact)) / (area * width)
    # where the liquid runs out: the profile's first moment stands at 3/5 of the front
    moment = float(wall.area @ (run.film.volume * y)) / (area * width)
    return front, moment / 0.6, off


def jeffreys() -> Row:
    """An upright plate that drains from its top edge."""
    wall = build_wall(plate(0.2, 2e-3), curved=False)
    run = run_coat(
        wall, HONEY, still(frame_angle=-math.pi / 2),
        volume=np.full(len(wall.area), 2e-3), until=60.0, terms=PLAIN,
    )  # fmt: skip
    got = _at(wall.x[:, 1], run.thickness, 0.1, 5e-3)
    return within("thickness 0.1 m below the edge of a draining plate", math.sqrt(1e-3 * 0.1 / (G * 60.0)), got,
                  0.01, unit="m", source=JEFFREYS)  # fmt: skip


def moffatt_profile(load: float, theta: Floats) -> Floats:
    """H(theta) of the thin branch of Q = H - H^3 cos(theta)/3 for Q = `load` <= 2/3."""
    found = []
    for c in np.cos(theta):
        top = min(1.0 / math.sqrt(c), 1.5 * load + 1e-9) if c > 0.0 else load
        found.append(brentq(lambda h, c=c: h - h**3 * c / 3.0 - load, 0.0, max(top, load) + 1e-12))
    return np.array(found)


def moffatt(load: float, *, around: int) -> Iterator[Row]:
    """A film in a tube that turns twice about its level axis, started on the published profile: it must stay there."""
    radius, rate = 0.05, 10.0 * 2.0 * math.pi / 60.0
    scale = math.sqrt(1e-3 * radius * rate / G)
    wall = build_wall(tube(radius, around), curved=False)
    theta = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    exact = moffatt_profile(load, theta)
    run = run_coat(
        wall, HONEY, constant(frame_rate=rate, cradle_rate=0.0), volume=scale * exact, until=12.0, terms=PLAIN,
        control=Control(turn_late=2.0 * math.pi / around),
    )  # fmt: skip
    off = float(wall.area @ np.abs(run.thickness / scale - exact)) / float(wall.area @ exact)
    yield Row(
        check=f"film in a turning tube at Q = {load}: mean departure after two turns", expected=0.0,
        got=off, unit="", tolerance=0.02, source=MOFFATT, status="published",
    )  # fmt: skip
    yield within(
        f"film in a turning tube at Q = {load}: rising side", float(moffatt_profile(load, np.zeros(1))[0]),
        _at(theta, run.thickness / scale, 0.0, 0.1), 0.02, source=MOFFATT,
    )  # fmt: skip


def overfull() -> Iterator[Row]:
    """More liquid than the tube can carry round: beside the puddle the film is that of the greatest flux, Q = 2/3."""
    radius, rate = 0.05, 2.0 * math.pi / 6.0
    scale = math.sqrt(1e-3 * radius * rate / G)
    wall = build_wall(tube(radius, 128), curved=False)
    theta = np.arctan2(wall.x[:, 2], wall.x[:, 1])
    even = np.full(len(theta), 5.5 / (2.0 * math.pi) * scale)
    run = run_coat(
        wall, HONEY, constant(frame_rate=rate, cradle_rate=0.0), volume=even, until=60.0, terms=PLAIN,
    )  # fmt: skip
    for name, at, height in (("top", 0.5 * math.pi, 2.0 / 3.0), ("sinking side", math.pi, 0.5960716)):
        round_about = np.mod(theta, 2.0 * math.pi)
        yield within(f"film on the {name} of a tube that holds more than the greatest load", height,
                     _at(round_about, run.thickness / scale, at, 0.1), 0.02, source=MOFFATT)  # fmt: skip


def drained(theta: float, *, sphere: bool) -> float:
    """h/h(pole) of the late profile at `theta` [rad] from the top."""
    p = 1.0 / 3.0 if sphere else -1.0 / 3.0
    whole, _ = quad(lambda s: math.sin(s) ** p, 0.0, theta)
    return math.sqrt(whole / (3.0 * math.sin(theta) ** (p + 1.0)) / (0.25 if sphere else 0.5))


def drained_tube() -> Iterator[Row]:
    """A film under and on the sides of a tube at rest, long after it was even."""
    wall = build_wall(tube(0.05, 180), curved=False)
    pole = math.sqrt(3.0 * 1e-3 * 0.05 / (2.0 * G * 300.0 + 3.0 * 1e-3 * 0.05 / 4e-6))
    return _drained("tube", wall, pole, near=0.15, share=0.01)


def drained_ball(*, rounds: int) -> Iterator[Row]:
    """A film under the roof and on the sides of a hollow ball at rest, long after it was even."""
    wall = build_wall(ball(0.05, rounds=rounds), curved=False)
    pole = 1.0 / math.sqrt(1.0 / 4e-6 + 4.0 * G * 300.0 / (3.0 * 1e-3 * 0.05))
    return _drained("ball", wall, pole, near=0.25, share=0.02)


def _drained(shape: str, wall: Wall, pole: float, *, near: float, share: float) -> Iterator[Row]:
    """The `wall` of a 50 mm `shape` after 300 s; its top is read within `near` [rad] and must hit `pole` to `share`."""
    run = run_coat(wall, HONEY, still(), volume=np.full(len(wall.area), 2e-3), until=300.0, terms=PLAIN)
    theta = np.arccos(np.clip(wall.x[:, 2] / 0.05, -1.0, 1.0))
    top = _at(theta, run.thickness, 0.0, near)
    yield within(f"film under the top of a {shape} after 300 s", pole, top, share, unit="m", source=TAKAGI)
    for degrees in (60.0, 90.0):
        at = math.radians(degrees)
        yield within(f"drained {shape} at {degrees:.0f} degrees over its top", drained(at, sphere=shape == "ball"),
                     _at(theta, run.thickness, at, 0.1) / top, 0.02, source=TAKAGI)  # fmt: skip


def curing() -> Fluid:
    """A liquid that thickens and gels within two minutes at constant temperature."""
    return HONEY._replace(
        cure=CureLaw(rate_factor=0.02, activation=0.0, order_n=1.3, order_m=0.5, seed=0.05, gel=0.65),
        viscosity=ViscosityLaw(factor=0.5, activation=0.0, gel=0.65, exponent_a=1.5, exponent_b=1.0),
    )


def cured_ball() -> Row:
    """A film that drains and gels under the top of a ball."""
    fluid, start = curing(), 2e-3
    wall = build_wall(ball(0.05, rounds=4), curved=False)
    run = run_coat(
        wall, fluid, still(), volume=np.full(len(wall.area), start), until=600.0, terms=PLAIN,
        control=Control(cure_every=0.1),
    )  # fmt: skip
    a, flowed, dt = 0.0, 0.0, 0.01
    while a < fluid.cure.gel:
        middle = react(a, 296.15, 0.0, fluid, 0.5 * dt)
        flowed += dt / viscosity(middle, 296.15, fluid.viscosity)
        a = react(a, 296.15, 0.0, fluid, dt)
    exact = 1.0 / math.sqrt(1.0 / start**2 + 4.0 * 1000.0 * G / (3.0 * 0.05) * flowed)
    theta = np.arccos(np.clip(wall.x[:, 2] / 0.05, -1.0, 1.0))
    return within("film that gelled under the top of a ball", exact, _at(theta, run.thickness, 0.0, 0.25), 0.02,
                  unit="m", source=LEE)  # fmt: skip


def growth(wavelength: float, *, nodes: int = 48, control: Control = PRECISE) -> float:
    """Growth rate [1/s] of a wave of `wavelength` [m] on 0.5 mm of liquid under a ceiling, `nodes` to the wave."""
    wall = build_wall(plate(wavelength, wavelength / nodes), curved=False)
    return _grown(wall, np.cos(2.0 * math.pi * wall.x[:, 1] / wavelength), control)


def square_growth(wavelength: float, *, nodes: int) -> float:
    """The same for ripples in squares, half a wave wide, on a ceiling with its triangles at random."""
    side = wavelength / math.sqrt(2.0)  # of a half wave across, with the whole one along
    spacing = wavelength * math.sqrt(2.0) / nodes
    wall = build_wall(plate(wavelength * math.sqrt(2.0), spacing, rows=nodes // 2 + 1), curved=False)
    wave = np.cos(math.pi * wall.x[:, 0] / side) * np.cos(math.pi * wall.x[:, 1] / side)
    return _grown(wall, wave, PRECISE)


def _grown(wall: Wall, wave: Floats, control: Control) -> float:
    run = run_coat(
        wall, constant_fluid(viscosity=0.1, density=1050.0, surface_tension=0.035), still(frame_angle=math.pi),
        volume=5e-4 * (1.0 + 1e-3 * wave), until=3.0, terms=PLAIN._replace(normal_gravity=1.0), control=control,
    )  # fmt: skip
    size = float(wall.area @ ((run.film.volume - 5e-4) * wave)) / float(wall.area @ (5e-4 * wave**2))
    return math.log(size / 1e-3) / 3.0


def ceiling() -> Iterator[Row]:
    """The ripples that a film under a flat roof gathers into, on coarser and finer meshes."""
    fastest = 2.0 * math.pi * math.sqrt(2.0) * math.sqrt(0.035 / (1050.0 * G))
    highest = (1050.0 * G) ** 2 * 1.25e-10 / (12.0 * 0.1 * 0.035)
    waves = fastest * np.array([0.85, 1.0, 1.15])
    for nodes in (12, 24, 48):
        rates = np.array([growth(float(one), nodes=nodes) for one in waves])
        yield within(f"growth of ripples under a ceiling, {nodes} nodes a wave", highest, float(rates[1]), 0.02,
                     unit="1/s", source=CEILING)  # fmt: skip
        a, b, _ = np.polyfit((2.0 * math.pi / waves) ** 2, rates, 2)
        best = 2.0 * math.pi / math.sqrt(-b / (2.0 * a))
        yield within(f"wavelength of the fastest ripples, {nodes} nodes a wave", fastest, best, 0.02, unit="m",
                     source=CEILING)  # fmt: skip
    yield within("growth of ripples in squares under a ceiling", highest, square_growth(fastest, nodes=24), 0.02,
                 unit="1/s", source=CEILING)  # fmt: skip
    halved = growth(fastest, nodes=24, control=shorter(PRECISE, 0.5))
    yield within("growth of ripples under a ceiling in halved steps", highest, halved, 0.02, unit="1/s",
                 source=CEILING)  # fmt: skip
    cut = growth(fastest / math.sqrt(2.0))
    yield Row(check="growth of ripples at the shortest wave that can grow", expected=0.0, got=cut, unit="1/s",
              tolerance=0.02 * highest, source=CEILING, status="published")  # fmt: skip


def _at(place: Floats, value: Floats, where: float, near: float) -> float:
    """Value of an even field at `where` from a parabola through what lies nearer than `near`."""
    close = np.abs(place - where) < near
    return float(np.polyval(np.polyfit(place[close] - where, value[close], 2), 0.0))
