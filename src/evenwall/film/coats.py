"""A gelled coat becomes wall: the surface that the next coat meets, and what every coat left where.

Where the coat is thin against the wall's hollows the new wall is the parallel surface, face by face. Where
that would fold, it is rebuilt from the distance to the old wall (see rebuild). Either way the volume
between the two surfaces is the coat's, and heat and thickness find their way between the two meshes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import sparse

from evenwall.errors import InputError, SolverError, heed
from evenwall.film.operators import inward_normals
from evenwall.film.rebuild import rebuilt
from evenwall.film.state import Floats
from evenwall.film.transfer import crowding, interpolation, third_areas, transfer
from evenwall.geometry.remesh import Stop
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, area_vectors
from evenwall.geometry.tree import closest, tree_of

AreasOf = Callable[[Surface], Floats]

NEAREST: Final = 0.8  # a moved node nearer to the wall than this many times its coat has crossed another []
TRACE: Final = 1e-6  # a coat thinner than this reaches nowhere: its distance to the wall is mere rounding [m]
FLATTEST: Final = 0.1  # a face that keeps less than this share of its area is folding []
UPRIGHT: Final = 0.05  # weight of going straight up, against moving each face by the same []
REFINE: Final = 20  # rounds in search of the exact volume


@dataclass(frozen=True, kw_only=True)
class Covered:
    """The wall after one coat: m nodes, on an old wall of n."""

    surface: Surface  # the new wall, mold axes [m]
    transfer: sparse.csr_array  # (m, n) takes fields per area from the old wall to the new, sums exact
    reading: (
        sparse.csr_array
    )  # (n, m) reads a thickness on the new wall at the old wall's nodes; rows sum to 1
    scale: float  # thicknesses were multiplied by this to hold the coat's volume exactly []
    rebuilt: bool  # the parallel surface would have folded
    cut_off: float  # hollow that the coat closed off and the next one can't reach [m3]
    cut_off_at: tuple[float, float, float] = (0.0, 0.0, 0.0)  # middle of the largest such hollow [m]


@dataclass(frozen=True, kw_only=True)
class Build:
    """The wall as it grew, coat by coat; n nodes on the piece's wall, m on the one that is now inmost."""

    wall: Surface  # the piece's wall, mold axes [m]
    surface: Surface  # the inmost wall now [m]
    reading: sparse.csr_array  # (n, m) reads a field of the inmost wall at the piece's wall
    coats: tuple[Floats, ...]  # thickness of each coat at the piece's wall, which holds its volume (n,) [m]
    volumes: tuple[float, ...]  # of each coat [m3]
    scales: tuple[float, ...]  # that each coat's thickness was multiplied by to hold its volume []
    cut_off: float  # hollows that coats closed off [m3]

    @property
    def total(self) -> Floats:
        """Thickness of all coats in sum at the piece's wall (n,) [m]."""
        return np.asarray(np.sum([np.zeros(len(self.wall.vertices)), *self.coats], axis=0))

    @property
    def enclosed_error(self) -> float:
        """Relative difference of the coats' volume and the volume under the thickness that the film computed [].

        Surfaces and `coats` hold the exact volume, since every thickness was multiplied by the coat's scale; this
        is what the scales had to make up for: creases and narrow hollows, where v = h - H h^2 + K h^3/3 ends.
        """
        poured = sum(self.volumes)
        under = sum(volume / scale for volume, scale in zip(self.volumes, self.scales, strict=True))
        return abs(under / poured - 1.0) if poured > 0.0 else 0.0


def bare(wall: Surface) -> Build:
    """The piece's wall before the first coat."""
    nodes = len(wall.vertices)
    return Build(
        wall=wall,
        surface=wall,
        reading=sparse.csr_array(sparse.eye_array(nodes)),
        coats=(),
        volumes=(),
        scales=(),
        cut_off=0.0,
    )


def with_coat(
    build: Build,
    thickness: Floats,
    *,
    volume: float,
    areas_of: AreasOf = third_areas,
    last: bool = False,
    stop: Stop | None = None,
) -> tuple[Build, Covered]:
    """The build with one more coat on its inmost wall, and how that coat covered it.

    `thickness` (m,) [m] at the inmost wall's nodes; `volume` [m3] is the coat's; `areas_of`, `last` and `stop`
    as in `covered`.
    """
    done = covered(build.surface, thickness, volume=volume, areas_of=areas_of, last=last, stop=stop)
    return _grown(build, done, thickness, volume), done


def with_coat_as_found(build: Build, thickness: Floats, *, volume: float) -> Build:
    """The build with the thickness of one more coat, on which none will follow: its inmost wall stays."""
    return _grown(build, _uncovered(build.surface), thickness, volume)


def _grown(build: Build, done: Covered, thickness: Floats, volume: float) -> Build:
    return Build(
        wall=build.wall,
        surface=done.surface,
        reading=sparse.csr_array(build.reading @ done.reading),
        coats=(*build.coats, done.scale * np.asarray(build.reading @ thickness)),
        volumes=(*build.volumes, float(volume)),
        scales=(*build.scales, done.scale),
        cut_off=build.cut_off + done.cut_off,
    )


def covered(
    wall: Surface,
    thickness: Floats,
    *,
    volume: float,
    areas_of: AreasOf = third_areas,
    last: bool = False,
    stop: Stop | None = None,
) -> Covered:
    """The wall that a gelled coat of `thickness` (n,) [m] along the normals leaves; it holds `volume` [m3].

    `areas_of` gives the node areas (k,) [m2] of a surface with which the transfer's sums are exact. After the
    `last` coat a rebuilt wall is neither remeshed nor is anything carried to it: its transfer is all 0.
    Raises InputError where the coat's volume is not below the hollow's, StoppedError once stop() is true.
    """
    heed(stop)
    hollow = enclosed(wall)
    if volume >= hollow:
        raise InputError(
            f"the coat is {volume / hollow:.2f} times the hollow it lies in and must stay below 1: pour less"
        )
    if not np.all(np.isfinite(thickness)) or np.any(thickness < 0.0):
        raise SolverError("a coat's thickness is not a number or below 0: halve the time step and try again")
    if volume <= 0.0:
        return _uncovered(wall)
    moved, scale = _parallel(wall, thickness, hollow - volume)
    if moved is None or _folds(wall, moved, scale * thickness):
        return _from_distance(wall, thickness, volume, areas_of, last, stop)
    ratio = areas_of(wall) / areas_of(moved)
    return Covered(
        surface=moved,
        transfer=sparse.csr_array(sparse.diags_array(ratio)),
        reading=sparse.csr_array(sparse.eye_array(len(thickness))),
        scale=scale,
        rebuilt=False,
        cut_off=0.0,
    )


def _uncovered(wall: Surface) -> Covered:
    same = sparse.csr_array(sparse.eye_array(len(wall.vertices)))
    return Covered(surface=wall, transfer=same, reading=same, scale=1.0, rebuilt=False, cut_off=0.0)


def _parallel(wall: Surface, thickness: Floats, left: float) -> tuple[Surface | None, float]:
    """The wall whose faces moved by thickness times a factor, so that it encloses `left` [m3].

    None where no factor between a half and twice does it.
    """
    along = thickness[:, None] * across(wall)

    def too_much(factor: float) -> float:
        return enclosed(Surface(wall.vertices + factor * along, wall.faces)) - left

    low, high = 0.5, 2.0
    at_low, at_high = too_much(low), too_much(high)
    if not at_low > 0.0 > at_high:
        return None, 1.0
    factor = 1.0
    for _ in range(REFINE):
        here = too_much(factor)
        if abs(here) < 1e-14 * left:
            break
        if here > 0.0:
            low, at_low = factor, here
        else:
            high, at_high = factor, here
        factor = low + (high - low) * at_low / (at_low - at_high)
    return Surface(wall.vertices + factor * along, wall.faces), factor


def across(wall: Surface) -> Floats:
    """Ways (n, 3) [] that the nodes go while the faces round them move into the hollow by 1.

    They are longer than 1 at creases: along a unit normal the faces beside a crease of turning angle t would move by
    cos(t/2) alone, and a coat would hold several hundredths less than it does. The least squares of area times
    (way . normal - 1) over a node's faces; UPRIGHT holds the way to the node's normal where the faces leave it free.
    """
    vectors = area_vectors(wall)
    size = np.maximum(np.linalg.norm(vectors, axis=1), 1e-300)
    unit = -vectors / size[:, None]
    each = size[:, None, None] * unit[:, :, None] * unit[:, None, :]
    square, right = np.zeros((len(wall.vertices), 3, 3)), np.zeros((len(wall.vertices), 3))
    for k in range(3):
        np.add.at(square, wall.faces[:, k], each)
        np.add.at(right, wall.faces[:, k], size[:, None] * unit)
    normal = inward_normals(wall)
    aside = np.eye(3) - normal[:, :, None] * normal[:, None, :]
    trace = np.trace(square, axis1=1, axis2=2)[:, None, None]
    return np.asarray(np.linalg.solve(square + UPRIGHT * trace * aside, right[:, :, None])[:, :, 0])


def _folds(wall: Surface, moved: Surface, thickness: Floats) -> bool:
    """Whether faces turned over or collapsed, or a coat reaches into the coat of another part of the wall."""
    before, after = area_vectors(wall), area_vectors(moved)
    square = np.einsum("ij,ij->i", before, before)
    if np.any(np.einsum("ij,ij->i", before, after) < FLATTEST * square):
        return True
    found = closest(tree_of(wall), moved.vertices)
    there = thickness[wall.faces[found.face]].max(axis=1)
    reach = np.minimum(thickness, there)
    return bool(np.any((reach > TRACE) & (found.distance < NEAREST * reach)))


def _from_distance(
    wall: Surface, thickness: Floats, volume: float, areas_of: AreasOf, last: bool, stop: Stop | None
) -> Covered:
    inmost = rebuilt(wall, thickness, volume=volume, even=not last, stop=stop)
    heed(stop)
    carry = sparse.csr_array((len(inmost.surface.vertices), len(thickness)))
    if not last:
        old, new = areas_of(wall), areas_of(inmost.surface)
        crowded = crowding(wall, inmost.surface, old, new)
        heed(stop)
        carry = transfer(wall, inmost.surface, source_areas=old, target_areas=new, density=crowded)
    return Covered(
        surface=inmost.surface,
        transfer=carry,
        reading=interpolation(inmost.surface, wall),
        scale=inmost.scale,
        rebuilt=True,
        cut_off=inmost.cut_off,
        cut_off_at=inmost.cut_off_at,
    )


def brushed(wall: Surface, marked: Surface, marks: Floats, *, thickness: float) -> Floats:
    """A brushed-on layer as the start of a coat: thickness (n,) [m] at the wall's nodes.

    `marks` (k,) [] says on another mesh `marked` of the same piece where the brush goes (1) and where not
    (0), values between are its edge; `thickness` [m] is what it leaves.
    """
    if not thickness > 0.0:
        raise InputError(f"a brushed layer of {thickness} m is none: give a thickness above 0")
    return np.asarray(interpolation(marked, wall) @ np.clip(marks, 0.0, 1.0) * thickness)
