"""Pictures of a wall: its thickness in colours from four sides, with the scale and the wanted wall marked."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.collections import PolyCollection
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from evenwall.film.state import Floats
from evenwall.geometry.surface import Surface
from evenwall.units import from_si

COLOURS: Final = "cividis"  # perceptually even, the same for thickness everywhere
LIGHT: Final = np.array([0.35, -0.5, 0.8]) / np.linalg.norm([0.35, -0.5, 0.8])
INK: Final = "#2b2622"


@dataclass(frozen=True, kw_only=True)
class View:
    """A direction to look from, in mold axes."""

    name: str
    azimuth: float  # from the mold's -y round to +x [deg]
    elevation: float  # above the horizon [deg]


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A letter at a place of the wall."""

    letter: str
    at: tuple[float, float, float]  # mold axes [m]


TILT: Final = 18.0  # elevation of the level views, so that tops and undersides show too [deg]
LEVEL: Final = {
    "x": (("right (from +x)", 90.0), ("left (from -x)", 270.0)),
    "y": (("front (from -y)", 0.0), ("back (from +y)", 180.0)),
}


def four_sides(surface: Surface) -> tuple[View, ...]:
    """Four views that show most of the piece: both ways along the two axes in which it is smallest."""
    extents = surface.vertices.max(axis=0) - surface.vertices.min(axis=0)
    views: list[View] = []
    for axis in np.argsort(extents, kind="stable")[:2]:
        if axis == 2:
            views += [
                View(name="above (from +z)", azimuth=0.0, elevation=90.0),
                View(name="below (from -z)", azimuth=0.0, elevation=-90.0),
            ]
            continue
        (one, a), (other, b) = LEVEL["xy"[axis]]
        views += [
            View(name=one, azimuth=a, elevation=TILT),
            View(name=other, azimuth=b, elevation=-TILT),
        ]
    return tuple(views)


def wall_map(
    surface: Surface,
    thickness: Floats,
    *,
    wanted: float,
    unit: str = "mm",
    marks: Sequence[Mark] = (),
    views: Sequence[View] = (),
) -> bytes:
    """A PNG of the wall's thickness [m, shape (n,)] from four views; `wanted` [m] is marked on the scale."""
    values = np.array([from_si(float(t), unit) for t in thickness])
    low, high = scale_ends(values, from_si(wanted, unit))
    norm = Normalize(low, high)
    figure = Figure(figsize=(7.4, 6.6), dpi=200, facecolor="white")
    FigureCanvasAgg(figure)
    boxes = figure.subplots(2, 2, gridspec_kw={"wspace": 0.02, "hspace": 0.1}).ravel()
    radius = float(np.linalg.norm(surface.vertices - _middle(surface), axis=1).max())
    for axes, view in zip(boxes, views or four_sides(surface), strict=True):
        _draw(axes, surface, values, norm, view, radius)
        _letters(axes, surface, marks, view)
    bar = figure.colorbar(ScalarMappable(norm, COLOURS), ax=list(boxes), fraction=0.045, pad=0.02)
    bar.ax.set_title(f"wall [{unit}]", fontsize=9, color=INK, loc="left")
    bar.ax.axhline(from_si(wanted, unit), color="white", linewidth=3.0)
    bar.ax.axhline(from_si(wanted, unit), color="#b3261e", linewidth=1.6)
    bar.ax.text(
        1.25,
        from_si(wanted, unit),
        " wanted",
        color="#b3261e",
        va="center",
        ha="left",
        fontsize=8,
        transform=bar.ax.get_yaxis_transform(),
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
    )
    return png(figure, bbox_inches="tight", pad_inches=0.03)


def png(figure: Figure, **how: Any) -> bytes:
    """The figure as a PNG; `how` as its `savefig` takes it."""
    page = io.BytesIO()
    figure.savefig(page, format="png", **how)
    return page.getvalue()


def scale_ends(values: Floats, wanted: float) -> tuple[float, float]:
    """Ends of the colour scale: the middle 98 % of the values and the wanted wall always lie on it."""
    low, high = np.percentile(values, [1.0, 99.0])
    low, high = min(float(low), 0.75 * wanted), max(float(high), 1.25 * wanted)
    return max(0.0, low), high


def _middle(surface: Surface) -> Floats:
    return np.asarray(0.5 * (surface.vertices.min(axis=0) + surface.vertices.max(axis=0)))


def _camera(view: View) -> Floats:
    """Rows: right, up and towards the eye, in mold axes."""
    a, e = np.radians([view.azimuth, view.elevation])
    toward = np.array([np.sin(a) * np.cos(e), -np.cos(a) * np.cos(e), np.sin(e)])
    right = np.array([np.cos(a), np.sin(a), 0.0])
    return np.array([right, np.cross(toward, right), toward])


def _draw(axes: Any, surface: Surface, values: Floats, norm: Normalize, view: View, radius: float) -> None:
    camera = _camera(view)
    seen = (surface.vertices - _middle(surface)) @ camera.T
    corners = seen[surface.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    facing = np.flatnonzero(normal[:, 2] > 0.0)
    order = facing[np.argsort(corners[facing, :, 2].mean(axis=1))]
    shade = 0.55 + 0.45 * np.clip(normal[order] @ LIGHT, 0.0, 1.0)
    colours = mpl.colormaps[COLOURS](norm(values[surface.faces[order]].mean(axis=1)))
    colours[:, :3] *= shade[:, None]
    axes.add_collection(
        PolyCollection(list(corners[order, :, :2]), facecolors=colours, edgecolors=colours, linewidths=0.25)
    )
    axes.set(xlim=(-radius, radius), ylim=(-radius, radius), aspect="equal")
    axes.set_axis_off()
    axes.set_title(view.name, fontsize=9, color=INK, pad=1)


def _letters(axes: Any, surface: Surface, marks: Sequence[Mark], view: View) -> None:
    camera = _camera(view)
    for mark in marks:
        x, y, depth = camera @ (np.asarray(mark.at) - _middle(surface))
        if depth > 0.0:
            axes.text(
                x,
                y,
                mark.letter,
                fontsize=8,
                weight="bold",
                color=INK,
                ha="center",
                va="center",
                bbox={"boxstyle": "circle,pad=0.2", "facecolor": "white", "edgecolor": INK, "linewidth": 0.8},
            )
