"""What a thickness on the wall means to its maker: figures that converge with the mesh, and places to mend.

The numbers behind the words stand here and nowhere else. Figures are weighted with area; the bare minimum
and the first percentile go on falling as a mesh is refined, so the thinnest place is given as the lowest
mean over any patch of 25 mm2.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph
from scipy.spatial import cKDTree

from evenwall.film.state import Figures, Finding, FindingKind, Floats
from evenwall.geometry.surface import Surface, edges

EVEN: Final = 3.0  # even: the 95th percentile over the 5th is below this []
DRY: Final = 5.0e-5  # dry: thinner than this [m]
POOL_TIMES: Final = 3.0  # pool: thicker than this many times the coat's mean [] ...
POOL_DEPTH: Final = 3.0e-3  # ... and than this [m] ...
POOL_SHARE: Final = 0.02  # ... holding more than this share of the shot []
SAG: Final = 0.20  # sag: local thickness changed by more than this share after turning stopped []
CUT_OFF: Final = 2.5e-7  # a hollow that a coat closed off is called a bubble up to this [m3]
DRIP: Final = 1.0e-3  # drop: so much liquid fell from a place in all [m]
PATCH: Final = 2.5e-5  # patches that means are taken over [m2]
PLACES: Final = 8  # at most so many places are named of a kind, the largest first

Bools = NDArray[np.bool_]

TEXTS: Final[dict[FindingKind, tuple[str, str]]] = {
    "dry": (
        "No resin stays on the wall here.",
        "Brush this place before the first shot, or turn so that it faces down while the resin still flows.",
    ),
    "thin": (
        "The wall stays thinner here than the least that was asked for.",
        "Brush a layer on here first, prop the mold so that it does not drain, or add one more shot.",
    ),
    "pool": (
        "Liquid stands in a pool here instead of running on along the wall.",
        "Pour less in this shot and one more shot instead, or turn longer before it thickens.",
    ),
    "lump": (
        "A pool gelled here in one piece: it warms, shrinks and can pull the coat off.",
        "Pour less in this shot and one more shot instead.",
    ),
    "sag": (
        "The film still moved here after the turning stopped.",
        "Turn on until the resin no longer moves in its cup.",
    ),
    "hot": (
        "The coat gets hotter here than the {of} stands.",
        "Pour thinner coats and let the mold cool longer between them.",
    ),
    "cut off": (
        "The coat closes this narrow part off: it stays hollow, and no later coat reaches it.",
        "Fill this part by brush or syringe before the first shot, or cast it solid with a shot of its own.",
    ),
    "drop": (
        "Liquid hung here thicker than a drop can and fell to the wall below.",
        "Turn without pausing while the resin is thin, so that no place faces down with much on it.",
    ),
    "uneven": (
        "The coat is uneven: its thick places are several times as thick as its thin ones.",
        "Turn evenly in all directions until it gels, and pour less in one shot.",
    ),
}


def averaging(positions: Floats, normals: Floats, areas: Floats, *, size: float = PATCH) -> sparse.csr_array:
    """Operator (n, n) that takes a field on n wall nodes to its area-weighted means over patches.

    Row i averages over the nodes nearest to node i at `positions` (n, 3) [m] whose node areas `areas` (n,)
    [m2] add up to `size` [m2], the last one in part. Nodes whose `normals` (n, 3) [] look the other way
    belong to the other side of a thin place and are left out, as is what lies beyond three patch radii, and
    nodes without area.
    """
    n = len(positions)
    tree = cKDTree(positions)
    reach = 3.0 * np.sqrt(size / np.pi)
    few = min(n, int(np.ceil(1.5 * size / max(float(np.median(areas[areas > 0.0])), 1e-12))) + 8)
    pieces = [_patch_rows(tree, normals, areas, size, reach, few, part) for part in _chunks(n)]
    rows, columns, weights = (np.concatenate(parts) for parts in zip(*pieces, strict=True))
    return sparse.csr_array((weights, (rows, columns)), shape=(n, n))


def _chunks(n: int, *, size: int = 4096) -> Iterator[NDArray[np.int64]]:
    for start in range(0, n, size):
        yield np.arange(start, min(start + size, n))


def _patch_rows(
    tree: cKDTree,
    normals: Floats,
    areas: Floats,
    size: float,
    reach: float,
    count: int,
    nodes: NDArray[np.int64],
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats]:
    """Rows, columns and weights of the patches round `nodes`, looking at `count` neighbours first."""
    n = len(areas)
    _, near = tree.query(tree.data[nodes], k=np.arange(1, count + 1), distance_upper_bound=reach)
    there = near < n
    near = np.where(there, near, nodes[:, None])
    same = np.einsum("ijk,ik->ij", normals[near], normals[nodes]) > 0.0
    own = near == nodes[:, None]
    area = np.where(there & (same | own), areas[near], 0.0)
    grown = np.cumsum(area, axis=1)
    taken = np.clip(size - (grown - area), 0.0, area)
    wanting = (grown[:, -1] < size) & there[:, -1] & (count < n)
    kept = ~wanting[:, None] & (taken > 0.0)
    total = taken.sum(axis=1, keepdims=True)
    rows = np.broadcast_to(nodes[:, None], near.shape)[kept]
    result = rows, near[kept], (taken / np.where(total > 0.0, total, 1.0))[kept]
    if not wanting.any():
        return result
    more = _patch_rows(tree, normals, areas, size, reach, min(n, 2 * count), nodes[wanting])
    return tuple(np.concatenate(pair) for pair in zip(result, more, strict=True))  # type: ignore[return-value]


def local_means(thickness: Floats, areas: Floats, patches: sparse.csr_array) -> Floats:
    """Patch means (n,) of `thickness` (n,) [m], NaN at nodes without area; `patches` comes from `averaging`."""
    return np.where(areas > 0.0, patches @ thickness, np.nan)


def quantile(values: Floats, areas: Floats, share: float) -> float:
    """Value that `share` [] of the area lies below; `values` (n,) of any unit on node `areas` (n,) [m2]."""
    order = np.argsort(values)
    weight = areas[order]
    below = (np.cumsum(weight) - 0.5 * weight) / weight.sum()
    return float(np.interp(share, below, values[order]))


def figures(thickness: Floats, areas: Floats, patches: sparse.csr_array) -> Figures:
    """Figures of `thickness` (n,) [m] on node `areas` (n,) [m2]; `patches` comes from `averaging`."""
    mean = float(np.average(thickness, weights=areas))
    spread = float(np.sqrt(np.average((thickness - mean) ** 2, weights=areas)))
    p05, median, p95 = (quantile(thickness, areas, share) for share in (0.05, 0.5, 0.95))
    return Figures(
        mean=mean,
        p05=p05,
        median=median,
        p95=p95,
        cv=spread / mean if mean > 0.0 else 0.0,
        least=float(np.nanmin(local_means(thickness, areas, patches))),
    )


def dry_fraction(thickness: Floats, areas: Floats) -> float:
    """Share [] of the area (node `areas` (n,) [m2]) where `thickness` (n,) [m] is below DRY."""
    return float(areas[thickness < DRY].sum() / areas.sum())


def pool_limit(mean: float) -> float:
    """Thickness [m] above which liquid counts as pool in a coat of `mean` thickness [m]."""
    return max(POOL_TIMES * mean, POOL_DEPTH)


def pool_fraction(thickness: Floats, volume: Floats, areas: Floats, *, mean: float) -> float:
    """Share [] of the liquid in places thicker than `pool_limit`.

    `thickness` (n,) [m] and liquid `volume` per wall area (n,) [m] on node `areas` (n,) [m2]; `mean` [m] is
    the coat's volume over the wall's area.
    """
    liquid = volume * areas
    total = float(liquid.sum())
    return float(liquid[thickness > pool_limit(mean)].sum() / total) if total > 0.0 else 0.0


def neighbours(surface: Surface) -> sparse.csr_array:
    """Which nodes share an edge: symmetric boolean (n, n)."""
    pairs, _ = edges(surface)
    n = len(surface.vertices)
    ones = np.ones(2 * len(pairs), dtype=bool)
    both = np.concatenate([pairs, pairs[:, ::-1]])
    return sparse.csr_array((ones, (both[:, 0], both[:, 1])), shape=(n, n))


def places(mask: Bools, near: sparse.csr_array) -> tuple[NDArray[np.int64], ...]:
    """Node indices of every connected place where `mask` (n,) holds; `near` comes from `neighbours`."""
    nodes = np.flatnonzero(mask)
    if not len(nodes):
        return ()
    _, labels = csgraph.connected_components(near[nodes][:, nodes], directed=False)
    order = np.argsort(labels, kind="stable")
    cuts = np.flatnonzero(np.diff(labels[order])) + 1
    return tuple(nodes[part] for part in np.split(order, cuts))


def _found(
    kind: FindingKind, nodes: NDArray[np.int64], positions: Floats, areas: Floats, amount: float, limit: float
) -> Finding:
    centre = np.average(positions[nodes], axis=0, weights=areas[nodes])
    at = positions[nodes[np.argmin(np.sum((positions[nodes] - centre) ** 2, axis=1))]]
    text, remedy = TEXTS[kind]
    return Finding(
        kind=kind,
        at=(float(at[0]), float(at[1]), float(at[2])),
        area=float(areas[nodes].sum()),
        amount=float(amount),
        limit=float(limit),
        text=text,
        help=remedy,
    )


def _largest(found: list[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=lambda one: -one.area)[:PLACES])


def dry_places(surface: Surface, thickness: Floats, areas: Floats) -> tuple[Finding, ...]:
    """Connected dry places of at least one patch; amount is the place's mean thickness [m]."""
    spots = places((thickness < DRY) & (areas > 0.0), neighbours(surface))
    return _largest(
        [
            _found(
                "dry", nodes, surface.vertices, areas, np.average(thickness[nodes], weights=areas[nodes]), DRY
            )
            for nodes in spots
            if areas[nodes].sum() >= PATCH
        ]
    )


def thin_places(
    surface: Surface, thickness: Floats, areas: Floats, patches: sparse.csr_array, *, least: float
) -> tuple[Finding, ...]:
    """Connected places whose patch mean is below the `least` wall [m]; amount is the lowest mean [m]."""
    local = local_means(thickness, areas, patches)
    return _largest(
        [
            _found("thin", nodes, surface.vertices, areas, local[nodes].min(), least)
            for nodes in places(local < least, neighbours(surface))
        ]
    )


def pools(
    surface: Surface,
    thickness: Floats,
    volume: Floats,
    areas: Floats,
    *,
    shot: float,
    gelled: Bools | None = None,
) -> tuple[Finding, ...]:
    """Pools of a coat, each a connected place thicker than `pool_limit` holding over 2 % of the shot.

    `thickness` (n,) and `volume` per wall area (n,) [m] on node `areas` (n,) [m2]; `shot` is the shot's
    volume [m3]. Where the pool's middle, its thickest node, is `gelled` (n,) the pool is a lump. Amount is
    the pool's greatest thickness [m], limit the pool limit [m].
    """
    limit = pool_limit(shot / float(areas.sum()))
    found = []
    for nodes in places(thickness > limit, neighbours(surface)):
        if float((volume[nodes] * areas[nodes]).sum()) <= POOL_SHARE * shot:
            continue
        middle = nodes[np.argmax(thickness[nodes])]
        kind: FindingKind = "lump" if gelled is not None and gelled[middle] else "pool"
        found.append(_found(kind, nodes, surface.vertices, areas, thickness[middle], limit))
    return _largest(found)


def sagged(
    surface: Surface, before: Floats, after: Floats, areas: Floats, patches: sparse.csr_array
) -> tuple[Finding, ...]:
    """Places whose patch mean changed by more than SAG from the end of turning (`before`) to gel (`after`).

    Both thicknesses are (n,) [m]. Amount is the largest change [], relative to the thickness before.
    """
    start, end = (local_means(thickness, areas, patches) for thickness in (before, after))
    change = np.abs(end - start) / np.maximum(start, DRY)
    return _largest(
        [
            _found("sag", nodes, surface.vertices, areas, change[nodes].max(), SAG)
            for nodes in places(change > SAG, neighbours(surface))
        ]
    )


def hot_places(
    surface: Surface, peak: Floats, thickness: Floats, areas: Floats, *, limit: float, of: str
) -> tuple[Finding, ...]:
    """Covered places whose highest temperature `peak` (n,) [K] passed `limit` [K]; amount is the peak [K].

    `of` says what the limit belongs to, e.g. "rubber".
    """
    found = [
        _found("hot", nodes, surface.vertices, areas, peak[nodes].max(), limit)
        for nodes in places((peak > limit) & (thickness >= DRY), neighbours(surface))
    ]
    return _largest([replace(one, text=one.text.format(of=of)) for one in found])


def dripped(surface: Surface, fallen: Floats, areas: Floats, *, shot: float) -> tuple[Finding, ...]:
    """Places that more than POOL_SHARE of the `shot` [m3] fell from, more than DRIP of `fallen` (n,) [m] each.

    Amount is the most that fell, as thickness [m].
    """
    return _largest(
        [
            _found("drop", nodes, surface.vertices, areas, fallen[nodes].max(), DRIP)
            for nodes in places(fallen > DRIP, neighbours(surface))
            if float(areas[nodes] @ fallen[nodes]) > POOL_SHARE * shot
        ]
    )


def cut_off_hollow(volume: float, at: tuple[float, float, float]) -> tuple[Finding, ...]:
    """A hollow of `volume` [m3] round `at` [m] that a coat closed off; amount is that volume [m3]."""
    if volume <= CUT_OFF:
        return ()
    text, remedy = TEXTS["cut off"]
    return (Finding(kind="cut off", at=at, area=0.0, amount=volume, limit=CUT_OFF, text=text, help=remedy),)


def unevenness(surface: Surface, thickness: Floats, areas: Floats, wall: Figures) -> tuple[Finding, ...]:
    """The coat as a whole where p95 over p05 (not below DRY) passes EVEN; its place is the largest thick."""
    ratio = wall.p95 / max(wall.p05, DRY)
    if ratio < EVEN:
        return ()
    among = places((thickness >= wall.p95) & (areas > 0.0), neighbours(surface))
    thick = max(among, key=lambda nodes: areas[nodes].sum())
    return (_found("uneven", thick, surface.vertices, areas, ratio, EVEN),)
