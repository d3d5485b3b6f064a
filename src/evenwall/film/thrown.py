"""A forecast where turning throws the liquid: no film, but where each shot would lie in equilibrium.

Every shot comes to rest under a level surface of the mean potential (see spin). A gelled shot ends in such a
surface, so the next one ends in the level surface of the volumes' sum.
"""

from __future__ import annotations

import time
from typing import Final, NamedTuple

import numpy as np
from scipy import sparse

from evenwall.film.cap import kept_areas, said_of_cap
from evenwall.film.findings import averaging, dry_fraction, figures, pool_fraction
from evenwall.film.operators import inward_normals, node_areas
from evenwall.film.pouring import Setting
from evenwall.film.reach import reach
from evenwall.film.results import NO_UNCERTAINTY, RESTING, compared, settled
from evenwall.film.spin import HAND_OVER, Potential, potential, spun_surface
from evenwall.film.state import CoatResult, FilmForecast, Finding, Floats, History, Shot
from evenwall.geometry.surface import Surface
from evenwall.turning.kinematics import GRAVITY, Motion, angular_velocity, gravity

CENTRIFUGAL_LIMIT: Final = HAND_OVER  # centrifugal over gravity above which the film model ends []
GENTLE: Final = 0.1  # the same, up to which turning is called gentle []
INSTANTS: Final = 400  # of the turning that the potential is averaged over

THROWN_ASSUMPTIONS: Final = (
    "The turning throws the liquid, so no film was computed: each shot is taken to come to rest where the mean"
    " of gravity and the centrifugal force over the turning holds it.",
    "What varies faster than the liquid can follow, the flow on the way there and the heat are left out.",
)


def thrown_forecast(
    wall: Surface, coarse: Surface | None, setting: Setting, *, gel: float, ratio: float, began: float
) -> FilmForecast:
    """The equilibrium of every shot on `wall`, whose band comes from a `coarse` mesh of it.

    `gel` [s] is when the film would stand, `ratio` [] the largest centrifugal ratio, `began` [s] the start
    of the computation.
    """
    fine = _laid(wall, setting)
    coats, total = _coats(fine, setting, gel, ratio)
    whole = figures(total, fine.kept, fine.patches)
    band = NO_UNCERTAINTY
    if coarse is not None:
        second = _laid(coarse, setting)
        others, other_total = _coats(second, setting, gel, ratio)
        coats = tuple(compared(a, b, doubt=RESTING) for a, b in zip(coats, others, strict=True))
        finer = len(total) / len(other_total)
        coarser = figures(other_total, second.kept, second.patches)
        whole, band = settled(whole, coarser, nodes=finer, doubt=RESTING)
    return FilmForecast(
        wall=wall,
        node_area=fine.area,
        kept_area=fine.kept,
        coats=coats,
        coat_thickness=np.array([coat.thickness for coat in coats]),
        brush=None,
        total=total,
        figures=whole,
        uncertainty=band,
        findings=(),
        volume_error=max(coat.volume_error for coat in coats),
        enclosed_error=0.0,
        steps=0,
        elapsed=time.perf_counter() - began,
        nodes=len(wall.vertices),
        history="spun",
        history_reason=_reason(ratio, coats[-1].dry_fraction),
        stopped=False,
        assumptions=(*THROWN_ASSUMPTIONS, *said_of_cap(setting.closing)),
    )


def centrifugal_ratio(
    points: Floats, motion: Motion, crossing: tuple[float, float, float], *, until: float
) -> float:
    """Largest centrifugal acceleration over gravity [] at `points` (n, 3) [m] while turning `until` [s]."""
    times = np.unique(np.concatenate([np.linspace(0.0, until, 200), np.minimum(motion.time, until)]))
    arms = points - np.asarray(crossing)
    worst = 0.0
    for t in times[:: max(1, len(times) // 2000)]:
        w = np.asarray(angular_velocity(motion, float(t)))
        spin2 = float(w @ w)
        if spin2 * float(np.linalg.norm(arms, axis=1).max()) > worst * GRAVITY:
            across = np.linalg.norm(np.cross(w, np.cross(w, arms)), axis=1)
            worst = max(worst, float(across.max()) / GRAVITY)
    return worst


def gentle_share(ratio: float) -> float:
    """Share [] of the rate at which turning with this centrifugal ratio [] becomes gentle."""
    return float(np.sqrt(GENTLE / ratio))


def _reason(ratio: float, dry: float) -> str:
    return (
        f"The turning throws the liquid outward with {ratio:.1f} times its weight, above {CENTRIFUGAL_LIMIT:g}"
        f" where the film's model ends: this is the surface at rest, which leaves {dry:.0%} of the wall bare."
    )


class _Mesh(NamedTuple):
    """A wall of n nodes and what its figures go by."""

    wall: Surface
    normals: Floats  # (n, 3) into the cavity []
    area: Floats  # (n,) [m2]
    kept: Floats  # (n,) the same, zero where the skin comes off [m2]
    patches: sparse.csr_array  # (n, n) takes a field to its means


def _laid(wall: Surface, setting: Setting) -> _Mesh:
    area, normals = node_areas(wall), inward_normals(wall)
    kept = kept_areas(wall, area, setting.closing)
    return _Mesh(wall, normals, area, kept, averaging(wall.vertices, normals, kept))


def _field(setting: Setting, gel: float) -> Potential:
    times = np.linspace(0.0, gel, INSTANTS)
    return potential(
        np.array([gravity(setting.motion, float(t)) for t in times]),
        np.array([angular_velocity(setting.motion, float(t)) for t in times]),
        crossing=np.asarray(setting.crossing),
    )


def _coats(mesh: _Mesh, setting: Setting, gel: float, ratio: float) -> tuple[tuple[CoatResult, ...], Floats]:
    """Each shot where it comes to rest, and all of them in sum (n,) [m]."""
    field, room = _field(setting, gel), reach(mesh.wall.vertices, mesh.normals)
    thickness, volume = np.zeros(len(mesh.area)), np.zeros(len(mesh.area))
    coats, poured = [], 0.0
    for shot in setting.shots:
        poured += shot.volume
        spun = spun_surface(mesh.wall, poured, field, areas=mesh.area, reach=room)
        coats.append(_coat(mesh, setting, shot, spun.thickness - thickness, spun.volume - volume, gel, ratio))
        thickness, volume = spun.thickness, spun.volume
    return tuple(coats), thickness


def _coat(
    mesh: _Mesh, setting: Setting, shot: Shot, thickness: Floats, volume: Floats, gel: float, ratio: float
) -> CoatResult:
    wall, area, kept = mesh.wall, mesh.area, mesh.kept
    nodes = len(area)
    warm = np.full(nodes, setting.mold_temperature)
    mean = shot.volume / float(area.sum())
    thickest = int(np.argmax(thickness))
    dry = dry_fraction(thickness, kept)
    x, y, z = (float(value) for value in wall.vertices[thickest])
    thrown = Finding(
        kind="spun",
        at=(x, y, z),
        area=float(area[thickness > 0.0].sum()),
        amount=ratio,
        limit=CENTRIFUGAL_LIMIT,
        text=f"Turning throws the liquid against the walls farthest from the axes; {dry:.0%} of the wall stays bare.",
        help=f"Turn at {gentle_share(ratio):.0%} of this rate, which is gentle, or less.",
    )
    return CoatResult(
        shot=shot,
        surface=wall,
        thickness=thickness,
        volume=volume,
        node_area=area,
        conversion=np.full(nodes, setting.fluid.cure.gel),
        temperature=warm,
        peak_temperature=warm,
        gel_time=np.full(nodes, gel),
        wetted=np.where(thickness > 0.0, shot.pour_after, np.inf),
        rubber_temperature=np.zeros((nodes, 0)),
        figures=figures(thickness, kept, mesh.patches),
        uncertainty=NO_UNCERTAINTY,
        findings=(thrown,),
        gel_film=gel,
        turn_until=gel,
        pool_fraction=pool_fraction(thickness, volume, area, mean=mean),
        dry_fraction=dry,
        peak=setting.mold_temperature,
        lump=False,
        air_pressure=0.0,
        air_push=0.0,
        volume_error=abs(float(area @ volume) / shot.volume - 1.0),
        centrifugal_ratio=ratio,
        steps=0,
        elapsed=0.0,
        history=_at_rest(setting, gel, thickness),
        coarse_until=0.0,
    )


def _at_rest(setting: Setting, gel: float, thickness: Floats) -> History:
    """The one moment there is to show."""
    down = np.array(gravity(setting.motion, 0.0))[None, :]
    return History(
        times=np.array([gel]),
        thickness=thickness[None, :].astype(np.float32),
        gravity=down / np.linalg.norm(down),
        conversion=np.array([setting.fluid.cure.gel]),
        pool_fraction=np.zeros(1),
        temperature=np.array([setting.mold_temperature]),
    )
