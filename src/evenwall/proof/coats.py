"""Coats, pools, heat and shut-in air against closed forms, worked examples and a solid-modelling library."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import manifold3d
import numpy as np
from scipy.optimize import brentq
from scipy.special import erfc

from evenwall.film.air import pressure_when_warmed
from evenwall.film.coat import volumes
from evenwall.film.coats import across, bare, covered, with_coat
from evenwall.film.equations import volume_of
from evenwall.film.level import pool
from evenwall.film.operators import build_wall, inward_normals, node_areas
from evenwall.film.reach import reach
from evenwall.film.rubber import cell_widths, new_column, rest, rubber_step
from evenwall.film.spin import potential, spun_surface
from evenwall.film.state import Floats, Rubber
from evenwall.film.transfer import third_areas
from evenwall.geometry.ammonite import ammonite
from evenwall.geometry.remesh import evened
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, turned_round
from evenwall.proof.shapes import ball
from evenwall.proof.table import Row, within
from evenwall.resin.cure import CureLaw
from evenwall.turning.kinematics import GRAVITY

ROY: Final = "Roy, Roberts & Simpson, J. Fluid Mech. 454 (2002) 235; equals the shells' volumes"
SHELL: Final = "volume between concentric balls and coaxial tubes, elementary geometry"
CAP: Final = "spherical cap: V = pi d^2 (3 R - d) / 3, A = 2 pi R d, elementary geometry"
OFFSET: Final = "volume nearer to the wall than the thickness, by exact distances on a refined grid"
CUTS: Final = "plane cut of the same solid by manifold3d, a general solid-modelling library"
CARSLAW: Final = "Carslaw & Jaeger, Conduction of Heat in Solids (1959), sect. 2.4: erfc(x / (2 sqrt(a t)))"
PARABOLOID: Final = "rotating-liquid paraboloid z = w^2 r^2 / (2 g): Batchelor (1967), sect. 4.1"
WORKED: Final = "OpenStax, Chemistry, section 9.2, worked example: can of hair spray, 390 kPa"
BALANCE: Final = "energy balance: rise = reaction heat / heat capacity; 332 kJ/kg over 1.8 kJ/(kg K) is 184 K"


def rows(*, full: bool) -> Iterator[Row]:
    """Checks of what surrounds the flow; `full` adds finer meshes."""
    yield from curved_walls()
    yield from offsets(rounds=5 if full else 4)
    yield from by_the_films_law()
    yield from bowl(rounds=6 if full else 5)
    yield from cut_ammonite()
    yield from conduction()
    yield adiabatic()
    yield from paraboloid(sections=256 if full else 96)
    yield warmed_can()


def curved_walls() -> Iterator[Row]:
    """Liquid per wall area under 3 mm of film where the wall's radius is 50 mm."""
    cases = (("inside a ball", 20.0, 400.0, 2.8236e-3), ("on a ball", -20.0, 400.0, 3.1836e-3))
    for name, mean, gauss, expected in (*cases, ("inside a tube", 10.0, 0.0, 2.91e-3)):
        got = volume_of(3e-3, mean, gauss)
        yield within(f"liquid per wall area {name}", expected, got, 1e-6, unit="m", source=ROY)


def offsets(*, rounds: int) -> Iterator[Row]:
    """A coat of 3 mm as the next wall: the volume that manifold3d finds between the two surfaces."""
    inside = ball(0.05, rounds=rounds)
    outside = turned_round(inside)
    thick = np.full(len(inside.vertices), 3e-3)
    area = 4.0 * math.pi * 0.05**2
    left = covered(inside, thick, volume=2.8236e-3 * area)
    yield within("radius of the hollow that a 3 mm coat leaves in a ball", 0.047, _radius(left.surface), 1e-3,
                 unit="m", source=SHELL)  # fmt: skip
    yield within("thickness that holds the exact volume of that coat", 3e-3, 3e-3 * left.scale, 5e-3, unit="m",
                 source=SHELL)  # fmt: skip
    grown = outside.vertices + 3e-3 * across(outside)
    got = enclosed(Surface(grown, inside.faces)) - enclosed(inside)
    yield within("coat on the outside of a ball", 3.1836e-3 * area, got, 5e-3, unit="m3", source=SHELL)
    tube = _cylinder(0.05, 0.1, 96)
    wall = np.hypot(*tube.vertices[:, :2].T) > 0.049
    moved = tube.vertices - 3e-3 * tube.vertices * [1.0, 1.0, 0.0] / 0.05
    change = enclosed(tube) - enclosed(Surface(np.where(wall[:, None], moved, tube.vertices), tube.faces))
    yield within("coat on the side of a tube", 2.91e-3 * 2.0 * math.pi * 0.05 * 0.1, change, 5e-3, unit="m3",
                 source=SHELL)  # fmt: skip
    box = _of(manifold3d.Manifold.cube((0.06, 0.05, 0.04), True))
    yield from folded("a box", box, (0.06 - 6e-3) * (0.05 - 6e-3) * (0.04 - 6e-3))
    # an angle iron's hollow: five corners where the coat's faces meet, one that the coat goes round in a quarter circle
    side, arm, height = 0.05, 0.02, 0.04
    iron = manifold3d.CrossSection(
        [[(0.0, 0.0), (side, 0.0), (side, arm), (arm, arm), (arm, side), (0.0, side)]]
    )
    section = arm * (2.0 * side - arm) - 4.0 * side * 3e-3 + (5.0 - 0.25 * math.pi) * 3e-3**2
    yield from folded(
        "an angle iron", _of(manifold3d.Manifold.extrude(iron, height)), section * (height - 6e-3)
    )


def folded(name: str, coarse: Surface, hollow: float) -> Iterator[Row]:
    """A coat of 3 mm that leaves `hollow` [m3] of a body with sharp edges."""
    wall = _of(_solid(coarse).refine_to_length(2e-3))
    coat = enclosed(wall) - hollow
    rebuilt = covered(wall, np.full(len(wall.vertices), 3e-3), volume=coat)
    yield within(f"thickness that holds the coat in {name}, whose parallel wall folds", 3e-3, 3e-3 * rebuilt.scale,
                 5e-3, unit="m", source=SHELL)  # fmt: skip
    yield within(f"coat between {name} and its rebuilt wall", coat,
                 (_solid(wall) - _solid(rebuilt.surface)).volume(), 5e-3, unit="m3", source=CUTS)  # fmt: skip


def by_the_films_law() -> Iterator[Row]:
    """Coats in sum as v = h - H h^2 + K h^3/3 has them, where the wall is creased and where it bends and folds."""
    sides = np.array((0.06, 0.05, 0.04))
    box = build_wall(_of(_solid(_of(manifold3d.Manifold.cube(tuple(sides), True))).refine_to_length(2e-3)))
    held = float(box.area @ volumes(box, np.full(len(box.area), 1e-3)))
    yield within("a coat of 1 mm in a box by v = h - H h^2 + K h^3/3", sides.prod() - (sides - 2e-3).prod(), held,
                 5e-3, unit="m3", source=SHELL)  # fmt: skip
    shell = bare(evened(ammonite(), nodes=1500))
    for name, coats in (("three coats of 1 mm", 3 * (1e-3,)), ("one coat of 3 mm", (3e-3,))):
        build = shell
        for thickness in coats:
            wall = build_wall(build.surface)
            even = np.full(len(wall.area), thickness)
            build, _ = with_coat(
                build, even, volume=float(wall.area @ volumes(wall, even)), areas_of=node_areas
            )
        under = sum(volume / scale for volume, scale in zip(build.volumes, build.scales, strict=True))
        yield within(f"{name} in an ammonite by v = h - H h^2 + K h^3/3", sum(build.volumes), under, 5e-3,
                     unit="m3", source=OFFSET)  # fmt: skip


def bowl(*, rounds: int) -> Iterator[Row]:
    """A pool in a ball of 50 mm: depth and wetted area."""
    volume, radius = 57e-6, 0.05
    depth = brentq(lambda d: math.pi * d * d * (3.0 * radius - d) / 3.0 - volume, 0.0, radius)
    found = pool(ball(radius, rounds=rounds), volume, down=np.array([0.3, -0.4, -1.0]))
    yield within("depth of 57 mL in a ball of 50 mm", depth, found.deepest, 5e-3, unit="m", source=CAP)
    yield within(
        "wall that it wets", 2.0 * math.pi * radius * depth, found.wetted, 5e-3, unit="m2", source=CAP
    )


def cut_ammonite() -> Iterator[Row]:
    """A pool in the demo's ammonite, lying and on edge, against plane cuts."""
    piece = ammonite()
    solid = _solid(piece)
    for name, down in (("lying", np.array([0.0, 0.0, -1.0])), ("on edge", np.array([-0.8, 0.6, 0.0]))):
        volume = 0.1 * solid.volume()
        found = pool(piece, volume, down=down)
        cut = solid.trim_by_plane(tuple(down), -found.level)
        yield within(f"liquid under the level in an ammonite {name}", volume, cut.volume(), 1e-5, unit="m3",
                     source=CUTS)  # fmt: skip
        yield within(f"wall and free surface of that pool, {name}", cut.surface_area(),
                     found.wetted + found.free, 1e-5, unit="m2", source=CUTS)  # fmt: skip


def conduction() -> Iterator[Row]:
    """Thick rubber whose face is held 1 K warmer for 60 s, in steps of 0.25 s."""
    rubber = Rubber(thickness=0.06)
    spread = rubber.conductivity / (rubber.density * rubber.heat_capacity)
    column = new_column(rubber, 1, temperature=0.0)
    held, film = np.array([1e12]), np.array([1.0])
    heat = 0.0
    for _ in range(240):
        heat -= 0.25 * rubber_step(*column, film, np.array([2e-7]), held, 1.0, 0.25, 0.0, 0.0)[0]
    middles = np.cumsum(cell_widths(rubber.thickness)) - 0.5 * cell_widths(rubber.thickness)
    for depth in (1e-3, 3e-3, 6e-3):
        exact = float(erfc(depth / (2.0 * math.sqrt(spread * 60.0))))
        got = float(np.interp(depth, middles, column.temperature[0]))
        yield Row(check=f"warmth {1e3 * depth:.0f} mm deep in rubber after 60 s", expected=exact, got=got, unit="K",
                  tolerance=0.02, source=CARSLAW, status="published")  # fmt: skip
    taken = 2.0 * rubber.conductivity * math.sqrt(60.0 / (math.pi * spread))
    yield within("heat that the rubber took in 60 s", taken, heat, 0.02, unit="J/m2", source=CARSLAW)


def adiabatic() -> Row:
    """A film on rubber that conducts nothing, cured out."""
    column = new_column(Rubber(conductivity=1e-9), 1, temperature=296.0)
    law = CureLaw(rate_factor=5e5, activation=5e4, order_n=1.0, order_m=0.5, seed=0.05, gel=0.65)
    _, film, _ = rest(
        column, np.array([296.0]), np.zeros(1), thickness=np.array([1e-3]), capacity=np.array([2e3]),
        conductivity=0.2, adiabatic_rise=332e3 / 1800.0, law=law, duration=3000.0, outside_temperature=296.0,
        step=0.5,
    )  # fmt: skip
    return within("rise of a film that loses no heat", 184.4, film[0] - 296.0, 5e-3, unit="K", source=BALANCE,
                  status="from memory")  # fmt: skip


def paraboloid(*, sections: int) -> Iterator[Row]:
    """A half-filled upright can turned about its axis: liquid climbs by w^2 R^2 / (2 g), half of it above rest."""
    radius, height, rate = 0.05, 0.12, 15.0
    can = _cylinder(radius, height, sections)
    rise = (rate * radius) ** 2 / (2.0 * GRAVITY)
    volume = 0.5 * enclosed(can)
    still = potential(np.array([0.0, 0.0, -GRAVITY]), np.array([0.0, 0.0, rate]), crossing=np.zeros(3))
    areas, depth = third_areas(can), reach(can.vertices, inward_normals(can))
    found = spun_surface(can, volume, still, areas=areas, reach=depth)
    lowest = -found.level / GRAVITY  # on the axis
    yield within("middle of turning liquid under its level at rest", 0.5 * rise, -lowest, 0.01, unit="m",
                 source=PARABOLOID)  # fmt: skip
    highest = float(can.vertices[(found.thickness > 0.0), 2].max())
    yield Row(check="height that it climbs at the wall over its level at rest", expected=0.5 * rise, got=highest,
              unit="m", tolerance=height / 20, source=PARABOLOID, status="published")  # fmt: skip
    yield within("centrifugal ratio at its wall", rate**2 * radius / GRAVITY, found.ratio, 1e-3,
                 source=PARABOLOID)  # fmt: skip


def warmed_can() -> Row:
    """Gas shut in at 24 C and 360 kPa, warmed to 50 C."""
    got = pressure_when_warmed(360e3, 297.15, 323.15)
    return within("pressure of gas warmed in a closed can", 390e3, got, 5e-3, unit="Pa", source=WORKED)


def _radius(surface: Surface) -> float:
    return float(np.linalg.norm(surface.vertices, axis=1).mean())


def _solid(surface: Surface) -> manifold3d.Manifold:
    return manifold3d.Manifold(manifold3d.Mesh64(surface.vertices.copy(), surface.faces.astype(np.uint64)))


def _of(solid: manifold3d.Manifold) -> Surface:
    mesh = solid.to_mesh64()
    points: Floats = np.asarray(mesh.vert_properties)[:, :3]
    return Surface(points, np.asarray(mesh.tri_verts).astype(np.int64))


def _cylinder(radius: float, height: float, sections: int) -> Surface:
    """A closed can about z, its middle at the origin, walls split every twentieth of its height."""
    can = manifold3d.Manifold.cylinder(height, radius, radius, sections, True)
    return _of(can.refine_to_length(height / 20.0))
