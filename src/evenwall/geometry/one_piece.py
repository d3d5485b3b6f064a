"""Closed bodies become one piece: turned outwards, united where they cross, and kept as the choices say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.geometry import repair as steps
from evenwall.geometry.bodies import Body, Role, body_labels, depths, parts_of, volume_of
from evenwall.geometry.crossing import crossings, united
from evenwall.geometry.mended import Choices, CrossingSkins
from evenwall.geometry.repair import BoolArray, Repair, diagonal, repair
from evenwall.geometry.surface import (
    FloatArray,
    IntArray,
    Surface,
    bounds,
    face_areas,
    joined,
    linked,
    surface_samples,
    turned_round,
)
from evenwall.geometry.tree import closest, tree_of

_TOUCHING: Final = 1e-4  # skins lie on each other within this share of the diagonal
_CONTACT: Final = 0.02  # ... where so much of the smaller one's area does
_MOST_CONTACTS: Final = 30  # the largest bodies are compared


@dataclass(frozen=True, kw_only=True, eq=False)
class OnePiece:
    """What is kept of the bodies, and the account of all."""

    surface: Surface  # [m]
    caps: IntArray  # number of the opening that each face caps, or -1, (m,)
    bodies: tuple[Body, ...]  # all, the largest first
    crossing: CrossingSkins | None
    turned: Repair | None  # bodies that were turned outwards


def one_piece(surface: Surface, caps: IntArray, choices: Choices) -> OnePiece:
    """Turn bodies outwards, unite those that cross or lie on each other, and keep what the choices say.

    Raises MeshError where crossing bodies can't be united.
    """
    labels = body_labels(surface)
    parts = parts_of(surface, labels)
    cap_parts = [caps[labels == k] for k in range(len(parts))]
    volumes = np.array([volume_of(part) for part in parts])
    parts, turned = _facing_out(parts, volumes, choices)
    found = crossings(surface)
    touching = contacts(parts, _TOUCHING * diagonal(surface))
    between = np.concatenate([labels[found.pairs], touching])
    _, cluster = linked(between[:, 0], between[:, 1], len(parts))
    crossing = _crossing_skins(surface, between, found.pairs, found.complete, choices)
    pieces: list[Surface] = []
    piece_caps: list[IntArray] = []
    members = [np.flatnonzero(cluster == k) for k in range(int(cluster.max()) + 1)]
    for group in members:
        if len(group) > 1 and choices.crossing == "unite":
            whole = united([parts[k] for k in group])
            pieces.append(whole)
            piece_caps.append(_caps_on(whole, parts, cap_parts, group))
        else:
            pieces.append(joined(tuple(parts[k] for k in group)))
            piece_caps.append(np.concatenate([cap_parts[k] for k in group]))
    sizes = np.array([volume_of(piece) for piece in pieces])
    depth = depths(pieces, sizes)
    kept, roles = _kept(sizes, depth, choices)
    bodies: list[Body] = []
    for k in np.argsort(-np.abs(sizes), kind="stable"):
        for member in members[k]:
            role: Role = "crossing" if len(members[k]) > 1 else roles[k]
            bodies.append(body_of(parts[member], role, kept=bool(kept[k])))
    outcome = [turned_round(p) if depth[k] % 2 else p for k, p in enumerate(pieces)]
    return OnePiece(
        surface=joined(tuple(outcome[k] for k in np.flatnonzero(kept))),
        caps=np.concatenate([piece_caps[k] for k in np.flatnonzero(kept)]),
        bodies=tuple(bodies),
        crossing=crossing,
        turned=turned,
    )


def contacts(parts: list[Surface], reach: float) -> IntArray:
    """Pairs of bodies that lie on each other within `reach` [m] with a fiftieth of the smaller's area, (k, 2).

    Such skins touch without crossing: a scan's double skin, or blocks that stand face to face.
    """
    areas = np.array([face_areas(part).sum() for part in parts])
    order = np.argsort(-areas)[:_MOST_CONTACTS]
    boxes = [bounds(parts[k]) for k in order]
    pairs = []
    for i, large in enumerate(order):
        beside = [
            j
            for j in range(i + 1, len(order))
            if not ((boxes[i][0] > boxes[j][1] + reach) | (boxes[j][0] > boxes[i][1] + reach)).any()
        ]
        tree = tree_of(parts[large]) if beside else None
        for j in beside:
            points, weight = surface_samples(parts[order[j]], 2_000)
            near = closest(tree, points).distance <= reach  # type: ignore[arg-type]
            if weight[near].sum() > _CONTACT * weight.sum():
                pairs.append((large, order[j]))
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def body_of(part: Surface, role: Role, *, kept: bool) -> Body:
    """The account of one body."""
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


def _facing_out(
    parts: list[Surface], volumes: FloatArray, choices: Choices
) -> tuple[list[Surface], Repair | None]:
    """All closed bodies turned outwards; what lies inside another is sorted out later."""
    inward = np.flatnonzero(volumes < 0.0)
    if not len(inward) or steps.TURN_OUT in choices.refused:
        return parts, None
    out = [turned_round(p) if volumes[k] < 0.0 else p for k, p in enumerate(parts)]
    depth = depths(out, volumes)
    turned = [k for k in inward if depth[k] % 2 == 0]  # a void inside a body faces inwards rightly
    if not turned:
        return out, None
    before = joined(tuple(parts[k] for k in turned))
    after = joined(tuple(out[k] for k in turned))
    return out, repair(
        steps.TURN_OUT, before, after, count=len(turned), what="bodies", places=before.vertices
    )


def _crossing_skins(
    surface: Surface, between: IntArray, pairs: IntArray, complete: bool, choices: Choices
) -> CrossingSkins | None:
    several = bool((between[:, 0] != between[:, 1]).any())
    if not len(pairs) and complete and not several:
        return None
    touched = np.unique(pairs)
    places = surface.vertices[surface.faces[touched] if len(touched) else surface.faces].reshape(-1, 3)
    low, high = places.min(axis=0), places.max(axis=0)
    x, y, z = (0.5 * (low + high)).tolist()
    areas = face_areas(surface)
    return CrossingSkins(
        faces=len(touched),
        between_bodies=several,
        united=several and choices.crossing == "unite",
        complete=complete,
        share=float(areas[touched].sum() / areas.sum()),
        middle=(x, y, z),
        span=float(np.linalg.norm(high - low)),
    )


def _caps_on(whole: Surface, parts: list[Surface], cap_parts: list[IntArray], group: IntArray) -> IntArray:
    """Caps among the faces of a union: those whose middle lies on a cap of one of its bodies."""
    caps = np.full(len(whole.faces), -1)
    if all((cap_parts[k] < 0).all() for k in group):
        return caps
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
