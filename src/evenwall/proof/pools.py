"""Pools at rest and turned about the plumb line: caps, a meniscus, plane cuts of a real hollow, a paraboloid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np
from scipy.integrate import quad, solve_bvp
from scipy.optimize import brentq

from evenwall.film.coat import level_pool, levels, run_coat
from evenwall.film.fluid import constant_fluid
from evenwall.film.level import area_below, pool
from evenwall.film.operators import Wall, build_wall
from evenwall.film.state import Floats
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.remesh import evened
from evenwall.geometry.surface import Surface
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within
from evenwall.turning.kinematics import GRAVITY
from evenwall.turning.patterns import constant, still

RADIUS: Final = 0.05  # of the ball [m]
POURED: Final = 57e-6  # [m3]
SEEN: Final = 3e-4  # thinner liquid is no pool's [m]
PULL: Final = 0.035  # surface tension [N/m]
DENSITY: Final = 1050.0  # [kg/m3]
DOWN: Final = (0.0, 0.0, -1.0)
CAP: Final = "spherical cap: V = pi d^2 (3 R - d)/3, A = 2 pi R d, elementary geometry"
MENISCUS: Final = "Young and Laplace's equation for a pool in a bowl that it wets, solved by scipy"
CUTS: Final = "plane cuts of the solid by the divergence theorem (film/level.py, held against manifold3d)"
IN_AMMONITE: Final = 35e-6  # poured into the ammonite [m3]
PARTED: Final = ("lying", "on edge at 72 degrees")  # poses in which liquid that runs there parts
PARABOLOID: Final = "rotating-liquid paraboloid z = w^2 r^2 / (2 g): Batchelor (1967), sect. 4.1"


def rows(*, full: bool) -> Iterator[Row]:
    """Pools in a ball and an ammonite; `full` takes finer meshes."""
    bowl = ball(RADIUS, rounds=5 if full else 4)
    wall = build_wall(bowl)
    yield from lake(wall)
    yield from settled("a ball of 50 mm", bowl, wall, 200e-6, np.array(DOWN), tilt=0.35, wetted=0.02)
    yield from in_a_hollow(nodes=20_000 if full else 10_000, wetted=0.02 if full else 0.025)
    yield from meniscus(wall)
    yield from turned(wall)


def lake(wall: Wall) -> Iterator[Row]:
    """57 mL without surface tension: their level is flat to the rim."""
    depth = brentq(lambda d: math.pi * d * d * (3.0 * RADIUS - d) / 3.0 - POURED, 1e-3, RADIUS)
    r = np.linspace(0.0, math.sqrt(RADIUS**2 - (RADIUS - depth) ** 2), 2000)
    deepest, wet = _rested(wall, 0.0, 0.0)
    yield within("depth of 57 mL at rest in a ball of 50 mm", depth, deepest, 0.01, unit="m", source=CAP)
    yield within(
        "wall under that pool", _wetted(r, np.full_like(r, depth - RADIUS)), wet, 0.02, unit="m2", source=CAP
    )


def in_a_hollow(*, nodes: int, wetted: float) -> Iterator[Row]:
    """35 mL in the demo's ammonite, lying, tilted and on edge in five ways, many nodes full to the brim.

    Laid level without surface tension, and let go 20 degrees out of level with a resin's. Lying and at 72 degrees what
    is let go parts into whorls, which a plane cut of the whole does not know. Wet wall is counted in whole nodes, to
    within `wetted` [].
    """
    piece = evened(ammonite(), nodes=nodes)
    wall = build_wall(piece)
    poses = [("lying", (0.0, 0.0, -1.0)), ("tilted", (0.5, 0.0, -0.87))]
    for k in range(5):
        angle = 0.4 * math.pi * k
        poses.append((f"on edge at {72 * k} degrees", (math.cos(angle), math.sin(angle), 0.0)))
    for name, down in poses:
        where, way = f"an ammonite {name}", np.array(down)
        yield from settled(where, piece, wall, IN_AMMONITE, way, tilt=0.0, wetted=wetted)
        if name not in PARTED:
            yield from settled(where, piece, wall, IN_AMMONITE, way, tilt=0.35, tension=PULL)


def settled(
    name: str,
    piece: Surface,
    wall: Wall,
    volume: float,
    down: Floats,
    *,
    tilt: float,
    tension: float = 0.0,
    wetted: float | None = None,
) -> Iterator[Row]:
    """`volume` [m3] let go `tilt` [rad] out of level in `piece` with its `wall`: after a minute against its plane cut.

    Its depth, and to within `wetted` [] the wall with more than SEEN of it along its normal; None where a meniscus
    climbs.
    """
    down = down / np.linalg.norm(down)
    found = pool(piece, volume, down=down)
    fluid = constant_fluid(viscosity=0.05, density=DENSITY, surface_tension=tension)
    aside = np.cross(down, np.roll(down, 1))
    start = down + math.tan(tilt) * aside / np.linalg.norm(aside)
    run = run_coat(
        wall, fluid, still(frame_angle=math.acos(-down[2]), cradle_angle=math.atan2(-down[0], -down[1])),
        volume=level_pool(wall, volume, (start[0], start[1], start[2])), until=60.0,
    )  # fmt: skip
    level = levels(wall, run.film.volume, (down[0], down[1], down[2]))
    height, upward = -wall.x @ down, -wall.normal @ down
    deep = (run.thickness > 1e-3) & (upward > 0.3)
    stands = float(np.median(level[deep])) - float(height.min())
    what = f"{1e6 * volume:.0f} mL" + (f" let go {math.degrees(tilt):.0f} degrees aside" if tilt else "")
    yield within(f"depth of {what} at rest in {name}", found.deepest, stands, 0.02, unit="m", source=CUTS)
    if wetted is not None:
        under = area_below(piece, height + SEEN * np.maximum(upward, 0.0) - found.level)
        wet = float(wall.area[run.thickness > SEEN].sum())
        yield within(f"wall under {what} in {name}", under, wet, wetted, unit="m2", source=CUTS)


def meniscus(wall: Wall) -> Iterator[Row]:
    """The same liquid with its surface tension climbs the wall that it wets."""
    r, z = wetting_surface(POURED)
    deepest, wet = _rested(wall, PULL, 0.0)
    yield within("depth of that pool where its rim climbs", RADIUS + float(z[0]), deepest, 0.01, unit="m",
                 source=MENISCUS)  # fmt: skip
    yield within(
        "wall under that pool and its climbing rim", _wetted(r, z), wet, 0.02, unit="m2", source=MENISCUS
    )


def _wetted(r: Floats, z: Floats) -> float:
    """Wall of the ball [m2] under more than SEEN of liquid whose surface has radius and height `r`, `z` (k,) [m]."""
    depth = RADIUS - np.hypot(r, z)  # along the wall's normal
    rim = np.interp(-SEEN, -depth, np.arctan2(r, -z))
    return float(2.0 * math.pi * RADIUS**2 * (1.0 - np.cos(rim)))


def wetting_surface(volume: float) -> tuple[Floats, Floats]:
    """Radius and height (k,) [m] from the ball's centre of the surface of `volume` [m3] at rest, contact angle 0."""
    length2 = PULL / (DENSITY * GRAVITY)

    def along(x: Floats, y: Floats, p: Floats) -> Floats:
        r = p[0] * np.maximum(x, 1e-6)
        z, slope, _ = y
        steep = np.sqrt(1.0 + slope**2)
        bend = steep**3 * ((z - p[1]) / length2 - slope / (r * steep))
        floor = -np.sqrt(np.maximum(RADIUS**2 - r**2, 0.0))
        return np.asarray(p[0] * np.stack([slope, bend, 2.0 * math.pi * r * (z - floor) / volume]))

    def ends(a: Floats, b: Floats, p: Floats) -> Floats:
        floor = -math.sqrt(RADIUS**2 - p[0] ** 2)
        return np.array([a[1], a[2], (b[0] - floor) / RADIUS, b[1] + p[0] / floor, b[2] - 1.0])

    depth = brentq(lambda d: math.pi * d * d * (3.0 * RADIUS - d) / 3.0 - volume, 1e-3, RADIUS)
    level = depth - RADIUS
    x = 1.0 - np.linspace(1.0, 0.0, 400) ** 2
    rim = math.sqrt(RADIUS**2 - (level + 1.5e-3) ** 2)
    climb = np.exp((x - 1.0) * rim / math.sqrt(length2))
    guess = np.stack([level + 1.5e-3 * climb, 0.9 * climb, x**2])
    found = solve_bvp(along, ends, x, guess, p=[rim, level], tol=1e-6, max_nodes=20_000)
    if not found.success:
        raise ArithmeticError(f"the meniscus was not found: {found.message}")
    return np.asarray(found.p[0] * found.x), np.asarray(found.y[0])


def turned(wall: Wall) -> Iterator[Row]:
    """57 mL in the ball that turns about the plumb line at 95 turns a minute."""
    rate = 10.0
    deepest, wet = _rested(wall, 0.0, rate)

    def held(lowest: float) -> float:
        def over(r: float) -> float:
            return (
                2.0
                * math.pi
                * r
                * (lowest + rate**2 * r * r / (2.0 * GRAVITY) + math.sqrt(RADIUS**2 - r * r))
            )

        return float(quad(over, 0.0, _rim(lowest, rate))[0])

    lowest = brentq(lambda z: held(z) - POURED, -0.999 * RADIUS, -0.3 * RADIUS)
    r = np.linspace(0.0, _rim(lowest, rate), 2000)
    wetted = _wetted(r, lowest + rate**2 * r**2 / (2.0 * GRAVITY))
    yield within("depth on the axis of 57 mL in a ball that turns about the plumb line", RADIUS + lowest, deepest, 0.01,
                 unit="m", source=PARABOLOID)  # fmt: skip
    yield within("wall under that turning pool", wetted, wet, 0.02, unit="m2", source=PARABOLOID)


def _rim(lowest: float, rate: float) -> float:
    """Radius [m] at which a paraboloid over `lowest` [m] meets the ball's lower half, which turns at `rate` [rad/s]."""

    def over(r: float) -> float:
        return lowest + rate**2 * r * r / (2.0 * GRAVITY) + math.sqrt(RADIUS**2 - r * r)

    return float(brentq(over, 0.0, RADIUS))


def _rested(wall: Wall, surface_tension: float, rate: float) -> tuple[float, float]:
    """Depth at the lowest node [m] and wetted area [m2] of the pool after 20 s, the ball turning at `rate` [rad/s]."""
    fluid = constant_fluid(viscosity=0.5, density=DENSITY, surface_tension=surface_tension)
    motion = constant(frame_rate=0.0, cradle_rate=rate)
    run = run_coat(wall, fluid, motion, volume=level_pool(wall, POURED, DOWN), until=20.0)
    deepest = float(run.thickness[np.argmin(wall.x[:, 2])])
    return deepest, float(wall.area[run.thickness > SEEN].sum())
