"""The path that gravity takes in the mold, drawn on two half globes that keep areas true."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
RADIUS: Final = 118.0  # of a half globe on the page [px]
GAP: Final = 26.0


def globe_svg(directions: Floats, starved: Floats, *, label: str) -> str:
    """Unit vectors (n, 3) in order of time as a line, starved directions (k, 3) as crossed patches.

    Lambert's azimuthal equal-area projection (Lambert 1772): a direction at the angle a from the middle stands at
    the radius sqrt(2) sin(a/2) of the rim's, so equal patches of directions look equally large.
    """
    width, height = 4 * RADIUS + GAP + 16, 2 * RADIUS + 44
    shapes = []
    halves = (
        (-1.0, "down through the foot", RADIUS + 8),
        (1.0, "down through the top", 3 * RADIUS + GAP + 8),
    )
    for sign, title, middle in halves:
        shapes.append(
            f'<circle cx="{middle:.0f}" cy="{RADIUS + 8:.0f}" r="{RADIUS:.0f}" fill="var(--well)" '
            f'stroke="var(--line)" stroke-width="1.5"/>'
            f'<text x="{middle:.0f}" y="{2 * RADIUS + 30:.0f}" text-anchor="middle" font-size="17" '
            f'fill="currentColor">{title}</text>'
        )
        for patch in starved[starved[:, 2] * sign >= 0.0]:
            x, y = _place(patch, sign)
            cx, cy = middle + RADIUS * x, RADIUS + 8 - RADIUS * y
            shapes.append(
                f'<path d="M{cx - 4:.1f} {cy - 4:.1f}l8 8m0-8l-8 8" stroke="var(--brick)" stroke-width="1.8"/>'
            )
        shapes += _lines(directions, sign, middle)
    return (
        f'<svg role="img" aria-label="{label}" viewBox="0 0 {width:.0f} {height:.0f}" width="100%" '
        f'style="max-width:{width:.0f}px">{"".join(shapes)}</svg>'
    )


def _place(direction: Floats, sign: float) -> tuple[float, float]:
    x, y, z = (float(v) for v in direction)
    stretch = 1.0 / np.sqrt(1.0 + min(1.0, sign * z))
    return x * stretch * sign, y * stretch


def _lines(directions: Floats, sign: float, middle: float) -> list[str]:
    """The parts of the path on one half globe; older ones are paler."""
    shown = directions[:, 2] * sign >= 0.0
    edges = np.flatnonzero(np.diff(shown.astype(int)))
    out = []
    for part in np.split(np.arange(len(directions)), edges + 1):
        if len(part) < 2 or not shown[part[0]]:
            continue
        points = " ".join(
            f"{middle + RADIUS * x:.1f},{RADIUS + 8 - RADIUS * y:.1f}"
            for x, y in (_place(directions[k], sign) for k in part)
        )
        age = 0.35 + 0.65 * part[0] / len(directions)
        out.append(
            f'<polyline points="{points}" fill="none" stroke="var(--clay)" stroke-width="1.6" opacity="{age:.2f}"/>'
        )
    return out
