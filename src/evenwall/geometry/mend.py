"""A raw mesh becomes a closed surface: repairs in order, and what only the maker can decide as choices."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from evenwall.errors import MeshError
from evenwall.geometry import repair as steps
from evenwall.geometry.bodies import Body, body_labels, parts_of, volume_of
from evenwall.geometry.halves import halves_of
from evenwall.geometry.holes import Hole, bulges, filled, holes_of, is_small
from evenwall.geometry.mended import Anew, Choices, Halves, Mended, Opening
from evenwall.geometry.one_piece import OnePiece, body_of, one_piece
from evenwall.geometry.rebuild import facing_out, rebuilt, spacing_for
from evenwall.geometry.repair import BoolArray, Repair, Step, diagonal, repair
from evenwall.geometry.sheets import drop_sheets
from evenwall.geometry.surface import (
    IntArray,
    Surface,
    edges,
    face_areas,
    is_closed,
    open_edges,
    without_unused,
)
from evenwall.geometry.tree import closest, tree_of

DEFAULTS: Final = Choices()
_SCRAP: Final = 0.02  # an open part below this share of the area is a scrap
_SHATTERED: Final = 0.2  # scraps of more than this share together are no scraps
_MOST_BODIES: Final = 1_000  # more can't be sorted
_THINNEST: Final = 1e-7  # volume over area times diagonal, below which nothing is enclosed
_TANGLED: Final = 0.005  # share of the area that crosses itself, above which the wall is built anew
_CAPPED: Final = 0.3  # share of an opening that wall built anew must close to count as its cap


def mend(surface: Surface, choices: Choices = DEFAULTS) -> Mended:
    """Mend a mesh in the order weld, drop, turn, fill, bodies, crossings; build it anew where that fails.

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
    surface, caps, found = _closed_piece(surface, work)
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
        bodies=(*found.bodies, *work.scraps),
        crossing=found.crossing,
        halves=work.halves,
        anew=work.anew,
        fill_area=work.fill_area,
        fill_volume=work.fill_volume,
        open_edges=lone,
        touching_edges=int((edges(surface)[1] > 2).sum()),
        closed=is_closed(surface),
    )


_FIRST_STEPS: Final[tuple[tuple[str, Callable[[Surface], Step]], ...]] = (
    (steps.WELD, steps.weld),
    (steps.SEW, steps.sew),
    (steps.DROP_FLAT, steps.drop_flat),
    (steps.DROP_DOUBLE, steps.drop_double),
)


@dataclass
class _Work:
    """The account while it grows."""

    choices: Choices
    repairs: list[Repair] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    scraps: tuple[Body, ...] = ()
    halves: Halves | None = None
    anew: Anew | None = None
    fill_area: tuple[float, float] = (0.0, 0.0)
    fill_volume: tuple[float, float] = (0.0, 0.0)

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


def _closed_piece(skin: Surface, work: _Work) -> tuple[Surface, IntArray, OnePiece]:
    """The skin mended in place, or built anew where that is asked for, better, or the only way."""
    allowed = work.allows(steps.REBUILD)
    why = "it was asked for" if allowed and work.choices.rebuild == "always" else ""
    skin, loose = _without_scraps(skin, work)
    if loose:
        return _anew(skin, (), why or loose, work)
    holes = holes_of(skin)
    pair = halves_of(skin, tuple(h for h in holes if not is_small(h, skin)))
    if pair is not None:
        joined = allowed and work.choices.halves == "join"
        work.halves = replace(pair[2], joined=joined)
        if joined:
            why = why or "two halves were joined"
            holes = tuple(h for h in holes if h is not pair[0] and h is not pair[1])
    if why:
        _account_of_filling(skin, holes, work)
        return _anew(skin, holes, why, work)
    before = list(work.repairs)
    closed, caps = _closed(skin, holes, work)
    try:
        found = one_piece(closed, caps, work.choices)
    except MeshError as fault:
        if not allowed:
            raise
        why = str(fault).split(":")[0]
    else:
        why = _reason(found, work) if allowed else ""
        if not why:
            work.repairs += [found.turned] if found.turned is not None else []
            return found.surface, found.caps, found
    work.repairs = before
    return _anew(skin, holes, why, work)


def _reason(found: OnePiece, work: _Work) -> str:
    """Why the piece as mended is not to be trusted, or ""."""
    crossing = found.crossing
    if not is_closed(found.surface) and not work.choices.refused:
        return "the skin can't be closed edge by edge"
    if crossing is not None and not crossing.between_bodies and crossing.share > _TANGLED:
        return f"the skin crosses itself over {100.0 * crossing.share:.1f} % of its area"
    return ""


def _anew(
    skin: Surface, holes: tuple[Hole, ...], why: str, work: _Work
) -> tuple[Surface, IntArray, OnePiece]:
    """The wall built anew from distances to the skin, with the caps of its wide openings."""
    spacing = spacing_for(skin)
    turn = facing_out(skin, steps.faces_alike(skin)[1])
    faces = skin.faces.copy()
    faces[turn] = faces[turn][:, ::-1]
    skin = Surface(skin.vertices, faces)
    made = rebuilt(skin, spacing=spacing)
    wall = made.surface
    size = face_areas(wall)
    work.anew = Anew(
        why=why,
        spacing=made.spacing,
        lost_p95=made.lost_p95,
        closed_over=float(size[made.closed_over].sum()),
    )
    work.repairs.append(
        repair(steps.REBUILD, skin, wall, count=len(skin.faces), what="faces", places=wall.vertices)
    )
    work.openings.clear()
    caps = np.full(len(wall.faces), -1)
    wide = tuple(h for h in holes if not is_small(h, skin))
    if wide and made.closed_over.any():
        whole, masks = filled(skin, wide)
        flat = np.flatnonzero(np.any(masks, axis=0))
        owner = np.argmax(np.array(masks)[:, flat], axis=0)
        away = np.flatnonzero(made.closed_over)
        near = closest(
            tree_of(Surface(whole.vertices, whole.faces[flat])), wall.vertices[wall.faces[away]].mean(axis=1)
        )
        reached = near.distance < 0.25 * np.array([h.span for h in wide])[owner[near.face]]
        caps[away[reached]] = owner[near.face[reached]]
        for index, hole in enumerate(wide):
            mask = caps == index
            if size[mask].sum() < _CAPPED * hole.area:
                caps[mask] = -1
            else:
                caps[mask] = len(work.openings)
                work.openings.append(_opening(wall, hole, mask, work))
    found = one_piece(wall, caps, work.choices)
    return found.surface, found.caps, found


def _without_scraps(surface: Surface, work: _Work) -> tuple[Surface, str]:
    """Drop open parts below a fiftieth of the area: bits of table or dust of a scan.

    Where so much is loose that it can't be scraps, nothing is dropped and the second answer says it.
    """
    labels = body_labels(surface)
    count = int(labels.max()) + 1
    if count == 1:
        return surface, ""
    areas = np.bincount(labels, face_areas(surface), minlength=count)
    lone_vertices = np.zeros(len(surface.vertices), dtype=bool)
    lone_vertices[open_edges(surface).reshape(-1)] = True
    is_open = np.zeros(count, dtype=bool)
    is_open[labels[lone_vertices[surface.faces].any(axis=1)]] = True
    scrap = is_open & (areas < _SCRAP * areas.sum())
    loose = float(areas[scrap].sum() / areas.sum())
    rebuilding = work.allows(steps.REBUILD)
    if loose > _SHATTERED and rebuilding:
        _check_few_bodies(int((~is_open).sum()))
        return surface, f"{100.0 * loose:.0f} % of the skin hangs in loose bits"
    if not work.allows(steps.DROP_SCRAPS) or scrap.all() or not scrap.any():
        _check_few_bodies(count)
        return surface, ""
    _check_few_bodies(count - int(scrap.sum()))
    gone = scrap[labels]
    after = without_unused(Surface(surface.vertices, surface.faces[~gone]))
    places = surface.vertices[surface.faces[gone]].reshape(-1, 3)
    work.repairs.append(
        repair(steps.DROP_SCRAPS, surface, after, count=int(scrap.sum()), what="parts", places=places)
    )
    dropped = parts_of(Surface(surface.vertices, surface.faces[gone]), labels[gone])
    work.scraps = tuple(body_of(part, "scrap", kept=False) for part in dropped[:50])
    return after, ""


def _check_few_bodies(count: int) -> None:
    if count > _MOST_BODIES:
        raise MeshError(
            f"the mesh falls into {count:,} separate bodies, more than the {_MOST_BODIES:,} that are sorted: "
            "delete all but the piece, or rebuild the scan as one surface"
        )


def _closed(surface: Surface, holes: tuple[Hole, ...], work: _Work) -> tuple[Surface, IntArray]:
    """Fill small holes and cap wide openings; returns the number of the opening each face caps, or -1."""
    small = tuple(h for h in holes if is_small(h, surface)) if work.allows(steps.FILL) else ()
    wide = tuple(h for h in holes if not is_small(h, surface))
    _account_of_filling(surface, small, work)
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
            work.openings.append(_opening(surface, hole, mask, work))
    return surface, caps


def _account_of_filling(surface: Surface, holes: tuple[Hole, ...], work: _Work) -> None:
    """What the true skin over the small ones of these holes may have beside a flat filling."""
    small = tuple(h for h in holes if is_small(h, surface))
    if small:
        area, volume = bulges(surface, small)
        work.fill_area = (0.0, float(area.sum()))
        work.fill_volume = (float(volume.clip(max=0.0).sum()), float(volume.clip(min=0.0).sum()))


def _opening(surface: Surface, hole: Hole, mask: BoolArray, work: _Work) -> Opening:
    """The account of a wide opening whose cap are the faces of `mask`."""
    number = len(work.openings) + 1
    return Opening(
        role=work.choices.openings.get(number, work.choices.opening),
        faces=np.flatnonzero(mask),
        edges=len(hole.rim),
        span=hole.span,
        area=float(face_areas(Surface(surface.vertices, surface.faces[mask])).sum()),
        unevenness=hole.unevenness,
        middle=hole.middle,
        normal=hole.normal,
    )
