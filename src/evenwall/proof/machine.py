"""Outside checks of the machine: statics, handbook beams, general-purpose solid geometry, brute force."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np
import trimesh

from evenwall.geometry.surface import Surface
from evenwall.machine import beams, counterweights, effort, parts, torque, two_weights
from evenwall.machine.counterweights import Hung, Load, Rims
from evenwall.machine.materials import material
from evenwall.machine.parts import Place, Weight
from evenwall.proof.table import Row, within
from evenwall.turning.kinematics import GRAVITY, FloatArray

TUBE = "standard tube problem (40 mm tube, 5 mm wall, 1 kN on both overhangs), answers recomputed"
ROARK = "Roark's Formulas for Stress and Strain"
STATICS = "elementary statics, solved by hand"
UNBALANCE = "definition of static unbalance, U = m e (ISO 21940-11), gravity torque m g e"
CRANK = "engineering table: standing person, crank of 0.4 m, 130 N, 25 turns a minute"
WOOD = "Wood Handbook, rho = 1000 G (1 + M)"


def rows(*, full: bool) -> Iterator[Row]:
    """Rows of the machine; `full` tries more cases of the choice of weights."""
    yield from _tube()
    yield from _beams()
    yield from _statics()
    yield from _solids()
    yield from _energy()
    yield from _choice(30 if full else 6)
    yield from _two_weights()
    yield within(
        "power of a crank at its limit", 136.136, effort.crank_power(force=130.0, radius=0.4, rate=effort.CRANK_SPEED),
        1e-5, unit="W", source=CRANK,
    )  # fmt: skip


def _tube() -> Iterator[Row]:
    tube = beams.round_tube(outer=0.040, inner=0.030)
    bent = beams.overhung(load=1000.0, overhang=0.125, span=1.25, modulus=208e9, section=tube)
    radius = beams.bending_radius(moment=bent.moment, modulus=208e9, section=tube)
    stress = beams.bending_stress(moment=bent.moment, section=tube)
    for name, expected, got, unit in (
        ("second moment of the tube", 85_902.92e-12, tube.second_moment, "m4"),
        ("torsion constant of the tube", 171_805.85e-12, tube.torsion_constant, "m4"),
        ("bending moment between its supports", 125.0, bent.moment, "N m"),
        ("radius to which it bends", 142.942, radius, "m"),
        ("rise at mid-span", 1.36637e-3, bent.deflection, "m"),
        ("bending stress in it", 29.1026e6, stress, "Pa"),
    ):
        yield within(name, expected, got, 1e-5, unit=unit, source=TUBE)


def _beams() -> Iterator[Row]:
    tube = beams.round_tube(outer=0.040, inner=0.030)
    simple = beams.simply_supported(load=100.0, span=1.0, modulus=200e9, section=tube)
    fixed = beams.fixed_ends(load=100.0, span=1.0, modulus=200e9, section=tube)
    yield within(
        "deflection, simply supported",
        0.121261e-3,
        simple.deflection,
        1e-5,
        unit="m",
        source=ROARK,
        status="from memory",
    )
    yield within(
        "deflection, ends fixed",
        0.0303152e-3,
        fixed.deflection,
        1e-5,
        unit="m",
        source=ROARK,
        status="from memory",
    )
    square = beams.rectangle(width=0.1, height=0.1)
    yield within(
        "torsion constant of a square, 0.1406 a^4", 0.1406e-4, square.torsion_constant, 5e-3, unit="m4", source=ROARK,
        status="from memory",
    )  # fmt: skip
    yield within(
        "density of ponderosa pine, G = 0.40 at 12 %",
        448.0,
        material("ponderosa pine").density,
        1e-9,
        unit="kg/m3",
        source=WOOD,
    )


def _statics() -> Iterator[Row]:
    off = torque.worst(np.array([0.0, 10.0 * 6.016e-3, 0.0]), np.zeros(3)).frame
    yield within(
        "gravity torque of 10 kg lying 6.016 mm off the axis", 0.590, off, 2e-3, unit="N m", source=UNBALANCE
    )
    # 2 kg on the cradle 0.1 m off its axis and 0.2 m up, 1 kg on the frame 0.3 m down:
    # along the axis 2 x 0.2 - 1 x 0.3 = 0.1 kg m, across it 2 x 0.1 = 0.2 kg m
    frame, cradle = np.array([0.0, 0.0, -0.3]), np.array([0.2, 0.0, 0.4])
    worst = torque.worst(frame, cradle)
    yield within(
        "two-mass frame: torque about the cradle axis",
        0.2 * GRAVITY,
        worst.cradle,
        1e-12,
        unit="N m",
        source=STATICS,
    )
    yield within(
        "two-mass frame: torque about the frame axis",
        np.sqrt(0.05) * GRAVITY,
        worst.frame,
        1e-12,
        unit="N m",
        source=STATICS,
    )


def _solids() -> Iterator[Row]:
    solid = trimesh.creation.box(extents=(0.3, 0.2, 0.1))
    ours = parts.box(
        "box", mass=3.0, size=(0.3, 0.2, 0.1), middle=(0.1, 0.0, 0.2), carrier="cradle", known="computed"
    )
    solid.apply_translation((0.1, 0.0, 0.2))
    solid.density = 3.0 / solid.volume
    theirs = solid.moment_inertia_frame(np.eye(4))
    off = float(np.abs(parts.inertia([ours]) - theirs).max())
    yield _none(
        "inertia of a box about the crossing against trimesh", off, 1e-12, "kg m2", "trimesh, mass properties"
    )
    ring = trimesh.creation.annulus(r_min=0.05, r_max=0.12, height=0.08, sections=48)
    part = parts.solid(
        "ring", Surface(np.asarray(ring.vertices, dtype=np.float64), np.asarray(ring.faces, dtype=np.int64)),
        density=1150.0, crossing=(0.02, -0.01, 0.03),
    )  # fmt: skip
    ring.density = 1150.0
    about = np.eye(4)
    about[:3, 3] = (0.02, -0.01, 0.03)
    off = float(np.abs(parts.inertia([part]) - ring.moment_inertia_frame(about)).max())
    yield _none(
        "inertia of a rubber ring about the crossing against trimesh",
        off,
        1e-9,
        "kg m2",
        "trimesh, mass properties",
    )


def _energy() -> Iterator[Row]:
    chance = np.random.default_rng(2)
    frame, cradle = chance.normal(size=3), chance.normal(size=3)
    phi, theta = chance.uniform(0.0, 6.0, (2, 50))
    step = 1e-6

    def energy(a: FloatArray, b: FloatArray) -> FloatArray:
        return torque.potential_energy(frame, cradle, frame_angle=a, cradle_angle=b)

    about_frame = -(energy(phi + step, theta) - energy(phi - step, theta)) / (2.0 * step)
    about_cradle = -(energy(phi, theta + step) - energy(phi, theta - step)) / (2.0 * step)
    ours_frame = torque.frame_torque(frame, cradle, frame_angle=phi, cradle_angle=theta)
    ours_cradle = torque.cradle_torque(cradle, frame_angle=phi, cradle_angle=theta)
    source = "torque is minus the derivative of the potential energy, central differences"
    yield _none(
        "torque about the frame axis", float(np.abs(about_frame - ours_frame).max()), 1e-7, "N m", source
    )
    yield _none(
        "torque about the cradle axis", float(np.abs(about_cradle - ours_cradle).max()), 1e-7, "N m", source
    )


def _choice(cases: int) -> Iterator[Row]:
    """Against trying every way of hanging three pieces."""
    chance = np.random.default_rng(1)
    places = [
        Place(
            name=str(i), at=(0.15 * float(np.cos(a)), 0.15 * float(np.sin(a)), 0.1), carrier="cradle", room=2
        )
        for i, a in enumerate(np.linspace(0.0, 2.0 * np.pi, 5, endpoint=False))
    ]
    places += [Place(name=f"bar {z}", at=(0.0, 0.03, z), carrier="frame", room=1) for z in (-0.3, 0.3)]
    stock = [Weight(name="small", mass=0.3, count=2), Weight(name="large", mass=0.7, count=1)]
    rims = Rims(frame=0.4, cradle=0.2)
    for case in range(cases):
        loads = [Load(frame=0.03 * chance.normal(size=3), cradle=0.09 * chance.normal(size=3))]
        chosen = counterweights.choose(loads=loads, weights=stock, places=places, rims=rims, limit=3.0)
        count, force = _every_way(loads, places, rims)
        source = "brute force over all ways of hanging up to three pieces"
        if chosen.reached:
            yield Row(
                check=f"counterweights, case {case + 1}: pieces", expected=count, got=len(chosen.hung), unit="",
                tolerance=0.0, source=source, status="published",
            )  # fmt: skip
        yield within(
            f"counterweights, case {case + 1}: force at the rim",
            force,
            chosen.rim_force,
            1e-5,
            unit="N",
            source=source,
        )


def _every_way(loads: list[Load], places: list[Place], rims: Rims) -> tuple[int, float]:
    best = (True, 0, np.inf)
    for seats in product([None, *places], repeat=3):
        hung = [
            Hung(name="", mass=mass, place=seat.name, at=seat.at, carrier=seat.carrier)
            for mass, seat in zip((0.3, 0.3, 0.7), seats, strict=True)
            if seat is not None
        ]
        if any(sum(h.place == place.name for h in hung) > place.room for place in places):
            continue
        force = counterweights.rim_force(loads, rims, hung)
        over = force > 3.0
        best = min(best, (over, 0 if over else len(hung), force))
    return best[1], best[2]


def _two_weights() -> Iterator[Row]:
    """A body with m e = (0.12, -0.05) kg m and 0.2 N m of friction, read a quarter turn apart."""
    found = []
    for moment in (0.12, -0.05):
        up, down = ((moment * GRAVITY + sign * 0.2) / (0.3 * GRAVITY) for sign in (1.0, -1.0))
        readings = [two_weights.Reading(mass=abs(m), arm=0.3 if m > 0.0 else -0.3) for m in (up, down)]
        found.append(two_weights.component(readings[:1], readings[1:]))
    seen = two_weights.imbalance(*found)
    yield within("two weights: imbalance", 0.13, seen.size, 1e-9, unit="kg m", source=STATICS)
    yield within("two weights: friction", 0.2, seen.friction, 1e-9, unit="N m", source=STATICS)


def _none(check: str, got: float, tolerance: float, unit: str, source: str) -> Row:
    name = f"{check}, largest difference"
    return Row(
        check=name, expected=0.0, got=got, unit=unit, tolerance=tolerance, source=source, status="published"
    )
