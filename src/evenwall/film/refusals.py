"""What can't be forecast, each in one clear sentence before anything is computed."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from evenwall.errors import InputError, MeshError, MotionError, ResinError
from evenwall.film.coat import cup_rest, isothermal_gel
from evenwall.film.pouring import Setting
from evenwall.geometry.solid import volume as enclosed
from evenwall.geometry.surface import Surface, is_closed

COLDEST: Final = 233.15  # a temperature under this is no shop's [K]
HOTTEST: Final = 473.15  # nor one over this [K]


def refuse(wall: Surface, setting: Setting) -> float:
    """Raises for what can't be computed; else gives when [s] a film as warm as the mold gels.

    MeshError for an open or inverted wall, InputError for shots, temperatures or a brushed layer that can't
    be, MotionError for turning that is no number, ResinError for a resin that never gels or gels in its cup.
    """
    hollow = _hollow(wall)
    for name, kelvin in (("mold", setting.mold_temperature), ("air", setting.air_temperature)):
        _warm(name, kelvin)
    for name, values in zip(setting.motion._fields, setting.motion, strict=True):
        if not np.all(np.isfinite(values)):
            raise MotionError(
                f"the turning's {name.replace('_', ' ')} is not a number somewhere: mend that row"
            )
    _shots(setting, hollow)
    _brushed(setting)
    return isothermal_gel(setting.fluid, setting.mold_temperature)


def _hollow(wall: Surface) -> float:
    if not np.all(np.isfinite(wall.vertices)):
        row = int(np.flatnonzero(~np.isfinite(wall.vertices).all(axis=1))[0])
        raise MeshError(f"vertex {row} of the wall is not a number: repair the mesh first")
    if not is_closed(wall):
        raise MeshError("the wall is open and a forecast needs it closed: cap or fill it first")
    hollow = enclosed(wall)
    if hollow <= 0.0:
        raise MeshError("the wall is inside out, its faces look inward: turn its faces round")
    return hollow


def _shots(setting: Setting, hollow: float) -> None:
    shots = setting.shots
    if not shots:
        raise InputError("there is no shot to forecast: give at least one")
    left = hollow
    for number, shot in enumerate(shots, 1):
        name = f"shot {number} of {len(shots)}"
        if not shot.volume > 0.0:
            raise InputError(f"{name} holds {shot.volume * 1e6:g} mL where it must be above 0")
        if shot.volume >= left:
            raise InputError(
                f"{name} is {shot.volume * 1e6:.0f} mL where {left * 1e6:.0f} mL of the cavity are left: pour less"
            )
        left -= shot.volume
        _mixed(setting, name, shot.temperature, shot.pour_after)
    for number, (one, other) in enumerate(pairwise(shots), 1):
        if other.mixed_at + other.pour_after < one.mixed_at + one.pour_after:
            raise InputError(
                f"shot {number + 1} is poured at {other.mixed_at + other.pour_after:.0f} s, before shot {number} at"
                f" {one.mixed_at + one.pour_after:.0f} s: mix it later"
            )


def _brushed(setting: Setting) -> None:
    layer = setting.brushed
    if layer is None:
        return
    nodes = len(layer.marked.vertices)
    if layer.marks.shape != (nodes,) or not np.all(np.isfinite(layer.marks)):
        raise InputError(
            f"the brush has {layer.marks.size} marks on a mesh of {nodes} nodes: give one a node, 0 to 1"
        )
    if not layer.thickness > 0.0:
        raise InputError(f"a brushed layer of {layer.thickness:g} m is none: give a thickness above 0")
    _mixed(setting, "the brush coat", layer.temperature, layer.laid_after)


def _mixed(setting: Setting, name: str, temperature: float, after: float) -> None:
    """A mix that is still liquid when it is poured or brushed."""
    _warm(f"resin of {name}", temperature)
    if not 0.0 <= after < np.inf:
        raise InputError(f"{name} is poured {after:g} s after its mixing: give a time of 0 s or more")
    conversion, _ = cup_rest(setting.fluid, temperature, after)
    if conversion >= setting.fluid.cure.gel:
        raise ResinError(
            f"{name} gels in its cup before it is poured {after:.0f} s after mixing: pour sooner, or mix less at a time"
        )


def _warm(name: str, kelvin: float) -> None:
    if not COLDEST <= kelvin <= HOTTEST:
        raise InputError(
            f"{name} is at {kelvin:g} K where {COLDEST:.0f} to {HOTTEST:.0f} K can be: give kelvin, 0 C is 273.15 K"
        )
