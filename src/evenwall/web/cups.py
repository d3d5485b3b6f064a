"""Cups drawn with their fill lines, as plain SVG."""

from __future__ import annotations

from typing import Final

HEIGHT: Final = 128.0  # of the largest cup on the page [px]
SLANT: Final = 0.12  # how much narrower the bottom is


def cup_svg(*, brimful: float, largest: float, parts: list[tuple[str, float]], label: str) -> str:
    """A cup of `brimful` volume beside a `largest` one, filled with named volumes from the bottom up, any one unit.

    The fill lines stand where the liquid stands in a cup that widens towards the top, not at the plain share.
    """
    scale = (brimful / largest) ** (1.0 / 3.0)
    height, width = HEIGHT * scale, 0.72 * HEIGHT * scale
    total_width = width + 66.0
    below, shapes = 0.0, []
    for k, (name, volume) in enumerate(parts):
        low, high = level(below / brimful), level((below + volume) / brimful)
        below += volume
        shapes.append(_layer(width, height, low, min(high, 1.0), k))
        y = height * (1.0 - min(high, 1.0)) + 2.0
        shapes.append(
            f'<line x1="{_edge(width, high, left=False) - 9:.1f}" y1="{y:.1f}" x2="{width + 9:.1f}" y2="{y:.1f}" '
            f'stroke="currentColor" stroke-width="1.6"/>'
            f'<text x="{width + 12:.1f}" y="{y + 4:.1f}" font-size="12" fill="currentColor">{name}</text>'
        )
    outline = (
        f'<path d="M1 2 L{SLANT * width:.1f} {height + 2:.1f} H{(1 - SLANT) * width:.1f} L{width - 1:.1f} 2" '
        f'fill="none" stroke="currentColor" stroke-width="2.4" stroke-linejoin="round"/>'
    )
    return (
        f'<svg role="img" aria-label="{label}" width="{total_width:.0f}" height="{height + 6:.0f}" '
        f'viewBox="0 0 {total_width:.1f} {height + 6:.1f}">{"".join(shapes)}{outline}</svg>'
    )


def level(share: float) -> float:
    """Height of the liquid over the cup's height, for a volume over the brimful one, in a cone's frustum.

    The width grows from 1 - 2 SLANT at the bottom to 1 at the brim: volume over brimful is
    ((w0 + (1 - w0) y)^3 - w0^3) / (1 - w0^3) with w0 = 1 - 2 SLANT.
    """
    bottom = 1.0 - 2.0 * SLANT
    share = min(max(share, 0.0), 1.0)
    return float(((share * (1.0 - bottom**3) + bottom**3) ** (1.0 / 3.0) - bottom) / (1.0 - bottom))


def _edge(width: float, at: float, *, left: bool) -> float:
    inset = SLANT * width * (1.0 - at)
    return inset if left else width - inset


def _layer(width: float, height: float, low: float, high: float, number: int) -> str:
    corners = [
        (_edge(width, low, left=True), low),
        (_edge(width, high, left=True), high),
        (_edge(width, high, left=False), high),
        (_edge(width, low, left=False), low),
    ]
    points = " ".join(f"{x:.1f},{height * (1.0 - y) + 2.0:.1f}" for x, y in corners)
    return f'<polygon points="{points}" fill="var(--resin)" opacity="{0.9 if number == 0 else 0.55}"/>'
