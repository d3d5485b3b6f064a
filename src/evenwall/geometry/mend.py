"""A raw mesh becomes a closed surface: repairs in order, and what only the maker can decide as choices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from evenwall.errors import MeshError
from evenwall.geometry import repair as steps
from evenwall.geometry.bodies import Body, Role, body_labels, depths, parts_of, volume_of
from evenwall.geometry.crossing import crossings, united
from evenwall.geometry.holes import Hole, filled, holes_of, is_small
from evenwall.geometry.repair import BoolArray, Repair, Step, diagonal, repair
from evenwall.geometry.sheets import drop_sheets
from evenwall.geometry.surface import (
    FloatArray,
    IntArray,
    Surface,
    bounds,
    edges,
    face_areas,
    is_closed,
    joined,
    open_edges,
    turned_round,
    without_unused,
)

OpeningRole = Literal["base counts", "trimmed", "pour hole"]
_SCRAP: Final = 0.02  # an open part below this share of the area is a scrap
_MOST_BODIES: Final = 1_000  # more are refused
_THINNEST: Final = 1e-7  # volume over area times diagonal, below which nothing is enclosed


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What only the maker can decide; each has a default that is said."""

    refused: frozenset[str] = frozenset()  # names of repairs to leave out
    bodies: Literal["largest", "all"] = "largest"  # separate bodies
    inner: Literal["drop", "keep"] = "drop"  # bodies and voids wholly inside
    crossing: Literal["unite", "keep"] = "unite"  # bodies that cross
    opening: OpeningRole = "base counts"  # wide openings
    openings: Mapping[int, OpeningRole] = field(default_factory=dict)  # single ones, counted from 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Opening:
    """A wide opening, closed by a cap of triangles."""

    role: OpeningRole  # what the cap is to the casting
    faces: IntArray  # faces of the cap in the surface, (k,)
    edges: int  # edges of the rim
    span: float  # greatest width [m]
    area: float  # of the cap [m2]
    unevenness: float  # greatest distance of the rim from its mean plane [m]
    middle: FloatArray  # (3,) [m]
    normal: FloatArray  # out of the piece, unit length, (3,)


@dataclass(frozen=True, kw_only=True)
class CrossingSkins:
    """Where skins cross."""

    faces: int  # faces that cross another one
    between_bodies: bool  # True: several bodies; False: one body crosses itself
    united: bool  # the bodies were made one
    complete: bool  # False: the search was given up, there may be more
    middle: tuple[float, float, float]  # middle of the crossing faces [m]
    span: float  # diagonal of the box round them [m]


@dataclass(frozen=True, kw_only=True, eq=False)
class Mended:
    """The closed surface and the account of how it came about."""

    surface: Surface  # [m]
    repairs: tuple[Repair, ...]
    openings: tuple[Opening, ...]
    bodies: tuple[Body, ...]  # as found, the piece first
    crossing: CrossingSkins | None
    open_edges: int  # after welding and dropping, before anything was filled
    closed_as_read: bool  # the same, as a yes or no
    touching_edges: int  # edges that more than two faces share in the end
    closed: bool  # the surface is closed; False only where a repair was refused


def mend(surface: Surface, choices: Choices = Choices()) -> Mended:
    """Mend a mesh in the order weld, drop, turn, fill, bodies, crossings.

    Raises MeshError where nothing is enclosed, and for a refused name that no repair has.
    """
    unknown = choices.refused - set(steps.NAMES)
    if unknown:
        raise MeshError(f"repair {min(unknown)!r} is not known: refuse one of {', '.join(steps.NAMES)}")
    work = _Work(choices)
    surface = without_unused(surface)
    given = len(surface.faces)
    _check_enclosing(surface, given, volume=False)
    for name, step in _FIRST_STEPS:
        surface = work.do(name, step, surface)
    if not len(surface.faces):
        raise MeshError("the mesh encloses no volume: all of its faces are without area or given twice")
    _, uses = edges(surface)
    lone = int((uses == 1).sum())
    surface = work.do(steps.DROP_SHEETS, drop_sheets, surface) if (uses > 2).any() else surface
    surface = work.do(steps.TURN_ALIKE, steps.turn_alike, surface)
    surface, scraps = _without_scraps(surface, work)
    surface, caps = _closed(surface, work)
    surface, caps, bodies, crossing = _one_piece(surface, caps, work)
    if not caps.size or not (caps >= 0).any():
        surface = work.do(steps.FLIP_FLAT, steps.flip_flat, surface)
        caps = np.full(len(surface.faces), -1)
    _check_enclosing(surface, given, volume=is_closed(surface))
    openings = tuple(
        replace(opening, faces=np.flatnonzero(caps == index)) for index, opening in enumerate(work.openings)
    )
    return Mended(
        surface=surface,
        repairs=tuple(work.repairs),
        openings=tuple(opening for opening in openings if len(opening.faces)),
        bodies=(*bodies, *scraps),
        crossing=crossing,
        open_edges=lone,
        closed_as_read=lone == 0,
        touching_edges=int((edges(surface)[1] > 2).sum()),
        closed=is_closed(surface),
    )


_FIRST_STEPS: Final[tuple[tuple[str, Callable[[Surface], Step]], ...]] = (
    (steps.WELD, steps.weld),
    (steps.SEW, steps.sew),
    (steps.DROP_FLAT, steps.drop_flat),
    (steps.DROP_DOUBLE, steps.drop_double),
)


class _Work:
    """The list of repairs while it grows."""

    def __init__(self, choices: Choices) -> None:
        self.choices = choices
        self.repairs: list[Repair] = []
        self.openings: list[Opening] = []

    def allows(self, name: str) -> bool:
        return name not in self.choices.refused

    def do(self, name: str, step: Callable[[Surface], Step], surface: Surface) -> Surface:
        if not self.allows(name) or not len(surface.faces):
            return surface
        after, record = step(surface)
        if record is not None:
            self.repairs.append(record)
        return after


def _check_enclosing(surface: Surface, given: int, *, volume: bool) -> None:
    if len(surface.faces) and diagonal(surface) > 0.0:
        area = float(face_areas(surface).sum())
        least = _THINNEST * area * diagonal(surface)
        if area > 0.0 and (not volume or abs(volume_of(surface)) > least):
            return
    raise MeshError(
        f"the mesh of {given:,} faces encloses no volume (it is flat or a single sheet): "
        "export the whole piece as a solid"
    )


def _without_scraps(surface: Surface, work: _Work) -> tuple[Surface, tuple[Body, ...]]:
    """Drop open parts below a fiftieth of the area: bits of table or dust of a scan."""
    labels = body_labels(surface)
    count = int(labels.max()) + 1
    if count == 1:
        return surface, ()
    if not work.allows(steps.DROP_SCRAPS):
        _check_few_bodies(count)
        return surface, ()
    areas = np.bincount(labels, face_areas(surface), minlength=count)
    lone_vertices = np.zeros(len(surface.vertices), dtype=bool)
    lone_vertices[open_edges(surface).reshape(-1)] = True
    is_open = np.zeros(count, dtype=bool)
    is_open[labels[lone_vertices[surface.faces].any(axis=1)]] = True
    scrap = is_open & (areas < _SCRAP * areas.sum())
    _check_few_bodies(count - int(scrap.sum()) if not scrap.all() else count)
    if not scrap.any() or scrap.all():
        return surface, ()
    gone = scrap[labels]
    after = without_unused(Surface(surface.vertices, surface.faces[~gone]))
    places = surface.vertices[surface.faces[gone]].reshape(-1, 3)
    work.repairs.append(
        repair(steps.DROP_SCRAPS, surface, after, count=int(scrap.sum()), what="parts", places=places)
    )
    dropped = parts_of(Surface(surface.vertices, surface.faces[gone]), labels[gone])
    return after, tuple(_body(part, "scrap", kept=False) for part in dropped[:50])


def _check_few_bodies(count: int) -> None:
    if count > _MOST_BODIES:
        raise MeshError(
            f"the mesh falls into {count:,} separate bodies, more than the {_MOST_BODIES:,} that are sorted: "
            "delete all but the piece, or rebuild the scan as one surface"
        )


def _closed(surface: Surface, work: _Work) -> tuple[Surface, IntArray]:
    """Fill small holes and cap wide openings; returns the number of the opening each face caps, or -1."""
    holes = holes_of(surface)
    small = tuple(h for h in holes if is_small(h, surface)) if work.allows(steps.FILL) else ()
    wide = tuple(h for h in holes if not is_small(h, surface))
    if small:
        after, _ = filled(surface, small)
        places = surface.vertices[np.concatenate([h.rim for h in small])]
        work.repairs.append(repair(steps.FILL, surface, after, count=len(small), what="holes", places=places))
        surface = after
    caps = np.full(len(surface.faces), -1)
    if wide:
        surface, masks = filled(surface, wide)
        caps = np.full(len(surface.faces), -1)
        for index, (hole, mask) in enumerate(zip(wide, masks, strict=True)):
            caps[mask] = index
            work.openings.append(_opening(surface, hole, mask, work.choices, index))
    return surface, caps


def _opening(surface: Surface, hole: Hole, mask: BoolArray, choices: Choices, index: int) -> Opening:
    return Opening(
        role=choices.openings.get(index + 1, choices.opening),
        faces=np.flatnonzero(mask),
        edges=len(hole.rim),
        span=hole.span,
        area=float(face_areas(Surface(surface.vertices, surface.faces[mask])).sum()),
        unevenness=hole.unevenness,
        middle=hole.middle,
        normal=hole.normal,
    )


def _one_piece(
    surface: Surface, caps: IntArray, work: _Work
) -> tuple[Surface, IntArray, tuple[Body, ...], CrossingSkins | None]:
    """Turn bodies outwards, unite those that cross, and keep what the choices say."""
    labels = body_labels(surface)
    parts = parts_of(surface, labels)
    cap_parts = [caps[labels == k] for k in range(len(parts))]
    volumes = np.array([volume_of(part) for part in parts])
    parts = _facing_out(parts, volumes, surface, work)
    found = crossings(surface)
    cluster = _clusters(labels, found.pairs, len(parts))
    crossing = _crossing_skins(surface, labels, found.pairs, found.complete, work)
    groups = [np.flatnonzero(cluster == k) for k in range(int(cluster.max()) + 1)]
    pieces: list[Surface] = []
    piece_caps: list[IntArray] = []
    members: list[IntArray] = []
    for group in groups:
        if len(group) > 1 and work.choices.crossing == "unite":
            whole = united([parts[k] for k in group])
            pieces.append(whole)
            piece_caps.append(_caps_on(whole, parts, cap_parts, group))
        else:
            pieces.append(joined(tuple(parts[k] for k in group)))
            piece_caps.append(np.concatenate([cap_parts[k] for k in group]))
        members.append(group)
    sizes = np.array([volume_of(piece) for piece in pieces])
    depth = depths(pieces, sizes)
    kept, roles = _kept(sizes, depth, work.choices)
    bodies: list[Body] = []
    for k in np.argsort(-np.abs(sizes), kind="stable"):
        for member in members[k]:
            role: Role = "crossing" if len(members[k]) > 1 else roles[k]
            bodies.append(_body(parts[member], role, kept=bool(kept[k])))
    outcome = [turned_round(p) if depth[k] % 2 else p for k, p in enumerate(pieces)]
    surface = joined(tuple(outcome[k] for k in np.flatnonzero(kept)))
    caps = np.concatenate([piece_caps[k] for k in np.flatnonzero(kept)])
    return surface, caps, tuple(bodies), crossing


def _facing_out(parts: list[Surface], volumes: FloatArray, surface: Surface, work: _Work) -> list[Surface]:
    """All closed bodies turned outwards; what lies inside another is sorted out later."""
    inward = np.flatnonzero(volumes < 0.0)
    if not len(inward) or not work.allows(steps.TURN_OUT):
        return parts
    out = [turned_round(p) if volumes[k] < 0.0 else p for k, p in enumerate(parts)]
    depth = depths(out, volumes)
    turned = [k for k in inward if depth[k] % 2 == 0]  # a void inside a body faces inwards rightly
    if turned:
        before = joined(tuple(parts[k] for k in turned))
        after = joined(tuple(out[k] for k in turned))
        work.repairs.append(
            repair(steps.TURN_OUT, before, after, count=len(turned), what="bodies", places=before.vertices)
        )
    return out


def _clusters(labels: IntArray, pairs: IntArray, count: int) -> IntArray:
    """Which bodies cross each other, directly or through others: a label for each body."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    i, j = labels[pairs[:, 0]], labels[pairs[:, 1]]
    graph = coo_matrix((np.ones(len(i)), (i, j)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _crossing_skins(
    surface: Surface, labels: IntArray, pairs: IntArray, complete: bool, work: _Work
) -> CrossingSkins | None:
    if not len(pairs) and complete:
        return None
    between = bool((labels[pairs[:, 0]] != labels[pairs[:, 1]]).any())
    touched = np.unique(pairs) if len(pairs) else np.arange(1)
    places = surface.vertices[surface.faces[touched]].reshape(-1, 3)
    low, high = places.min(axis=0), places.max(axis=0)
    x, y, z = (0.5 * (low + high)).tolist()
    return CrossingSkins(
        faces=len(touched) if len(pairs) else 0,
        between_bodies=between,
        united=between and work.choices.crossing == "unite",
        complete=complete,
        middle=(x, y, z),
        span=float(np.linalg.norm(high - low)),
    )


def _caps_on(whole: Surface, parts: list[Surface], cap_parts: list[IntArray], group: IntArray) -> IntArray:
    """Caps among the faces of a union: those whose middle lies on a cap of one of its bodies."""
    caps = np.full(len(whole.faces), -1)
    if all((cap_parts[k] < 0).all() for k in group):
        return caps
    from evenwall.geometry.tree import closest, tree_of

    tree = tree_of(joined(tuple(parts[k] for k in group)))
    owner = np.concatenate([cap_parts[k] for k in group])
    nearest = closest(tree, whole.vertices[whole.faces].mean(axis=1))
    return np.asarray(owner[nearest.face], dtype=np.int64)


def _kept(sizes: FloatArray, depth: IntArray, choices: Choices) -> tuple[BoolArray, list[Role]]:
    largest = int(np.argmax(np.abs(sizes)))
    roles: list[Role] = ["inner" if d else "separate" for d in depth]
    roles[largest] = "piece"
    kept = np.array(
        [
            role == "piece"
            or (role == "separate" and choices.bodies == "all")
            or (role == "inner" and choices.inner == "keep")
            for role in roles
        ]
    )
    return kept, roles


def _body(part: Surface, role: Role, *, kept: bool) -> Body:
    low, high = bounds(part)
    x, y, z = (0.5 * (low + high)).tolist()
    return Body(
        role=role,
        volume=abs(volume_of(part)),
        area=float(face_areas(part).sum()),
        middle=(x, y, z),
        span=float(np.linalg.norm(high - low)),
        kept=kept,
    )
