"""The demo piece: an ammonite as a logarithmic spiral tube with ribs, made by formula."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenwall.errors import InputError
from evenwall.geometry.field import surface_of_samples
from evenwall.geometry.surface import FloatArray, Surface, bounds, scaled

RIDDLE = 1.0 / 170.0  # spacing of the samples over the greatest extent: ribs of the last whorl are well met


@dataclass(frozen=True, kw_only=True)
class Shell:
    """The shape of the shell; lengths are relative to the spiral's radius at the aperture."""

    expansion: float = 1.95  # growth of the spiral's radius a whorl
    whorls: float = 4.1  # turns from the first chamber to the aperture
    tube: float = 0.365  # radius of the tube over the radius of the spiral where it stands
    flattening: float = 0.86  # breadth of the tube along the coiling axis over its height
    ribs: int = 30  # ribs a whorl, a whole number keeps their spacing in step with the growth
    rib_depth: float = 0.16  # depth of a crevice between ribs over the tube's radius
    rib_sweep: float = 0.55  # how far the ribs lean forward over the back, in rib spacings
    tubercles: float = 0.0  # height of a knob on every second rib's shoulder over the tube's radius
    fillet: float = 0.012  # rounding where whorls touch


def ammonite(*, across: float = 0.16, shell: Shell | None = None) -> Surface:
    """A closed, outward ammonite of one body without handles, `across` [m] in its greatest extent.

    The centre line is the logarithmic spiral r = exp(b a) (Moseley 1838, Phil. Trans. 128, 351-370);
    the tube's radius is proportional to r, so that whorls overlap; ribs are rounded crests with narrow
    crevices between them. The aperture is closed by a rounded cap, the first chamber is a ball. The
    triangles come from marching cubes, which `remesh` makes even.
    """
    if not (np.isfinite(across) and across > 0.0):
        raise InputError(f"across = {across} m: an ammonite needs an extent above 0 m")
    shell = shell or Shell()
    reach = 1.0 + shell.tube * (1.0 + shell.tubercles) + 0.06
    spacing = 2.0 * reach * RIDDLE
    thick = shell.tube * shell.flattening * (1.0 + shell.tubercles) + 0.08
    x = np.arange(-reach, reach + spacing, spacing)
    z = np.arange(-thick, thick + spacing, spacing)
    grid = np.stack(np.meshgrid(x, x, z, indexing="ij"), axis=-1)
    surface = surface_of_samples(
        shell_distance(grid, shell), origin=np.array([x[0], x[0], z[0]]), spacing=spacing
    )
    size = float(np.ptp(bounds(surface), axis=0).max())
    return scaled(surface, across / size)


def shell_distance(points: FloatArray, shell: Shell) -> FloatArray:
    """About the distance into the shell, positive inside, of points (..., 3); lengths as in `Shell`.

    The aperture stands at angle 0, radius 1; whorl j behind it has the angle phi - 2 pi (j + 1).
    """
    x, y, z = points[..., 0], points[..., 1], points[..., 2]
    radius = np.hypot(x, y)
    angle = np.mod(np.arctan2(y, x), 2.0 * np.pi)
    growth = np.log(shell.expansion) / (2.0 * np.pi)
    start = -2.0 * np.pi * shell.whorls
    depth = _ball(points, np.zeros(3), 2.0 * np.exp(growth * start), shell.flattening)
    for whorl in range(int(np.ceil(shell.whorls)) + 1):
        along = angle - 2.0 * np.pi * (whorl + 1)
        inside = np.clip(along, start, 0.0)
        spiral = np.exp(growth * inside)
        tube = _tube(radius - spiral, z, inside, spiral, shell)
        depth = _union(depth, np.where(along < start, -1.0, tube), shell.fillet * spiral)
    cap = _ball(points, np.array([1.0, 0.0, 0.0]), shell.tube, shell.flattening)
    return _union(depth, cap, shell.fillet)


def _tube(out: FloatArray, z: FloatArray, along: FloatArray, spiral: FloatArray, shell: Shell) -> FloatArray:
    """Depth inside the ribbed tube where it stands at the angle `along`."""
    wide = z / shell.flattening
    around = np.arctan2(wide, out)  # 0 at the back, +-pi where the tube touches the whorl before
    back = 0.5 * (1.0 + np.cos(around))
    phase = shell.ribs * along - 2.0 * np.pi * shell.rib_sweep * back**2
    crest = np.sqrt(np.cos(0.5 * phase) ** 2 + 0.02) / np.sqrt(1.02)
    fade = np.clip(-along * shell.ribs / np.pi, 0.0, 1.0)  # no crevice runs into the cap
    reach = np.clip(1.35 * (back + 0.15), 0.0, 1.0)  # ribs end where the whorls touch
    rim = shell.tube * spiral * (1.0 - shell.rib_depth * reach * fade * (1.0 - crest))
    if shell.tubercles > 0.0:
        knob = np.exp(-(((np.abs(around) - 1.0) / 0.22) ** 2)) * np.cos(0.25 * phase) ** 8
        rim = rim + shell.tube * spiral * shell.tubercles * knob * fade
    return np.asarray(rim - np.hypot(out, wide))


def _ball(points: FloatArray, centre: FloatArray, radius: float, flattening: float) -> FloatArray:
    """Depth inside a ball that is flattened along the coiling axis."""
    return np.asarray(radius - np.linalg.norm((points - centre) / np.array([1.0, 1.0, flattening]), axis=-1))


def _union(a: FloatArray, b: FloatArray, fillet: FloatArray | float) -> FloatArray:
    """Both bodies as one, with a rounded crease of about the radius `fillet`."""
    blend = np.clip(0.5 + 0.5 * (a - b) / fillet, 0.0, 1.0)
    return np.asarray(b + (a - b) * blend + fillet * blend * (1.0 - blend))
