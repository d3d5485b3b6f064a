"""The skin on the closing board or plug: part of the piece, or what is taken off it."""

from __future__ import annotations

from dataclasses import dataclass

from evenwall.plan.casting_job import Mold, Opening


@dataclass(frozen=True, kw_only=True)
class BoardSkin:
    """What sets on the board or plug of one casting."""

    opening: Opening  # how the mold is closed
    area: float  # of the board or plug [m2]
    mass: float  # resin that sets on it [kg]
    trimmed: float  # of that, what is taken off the casting [kg]


def board_skin(mold: Mold, *, wall_area: float, mass: float) -> BoardSkin | None:
    """The board's share, by area, of the resin `mass` [kg] on a wall of `wall_area` [m2]; None without a board.

    The board is wall like any other while the mold turns, so it takes its share of every shot; a trimmed skin
    and that on a plug then come off.
    """
    if mold.opening == "closed" or mold.opening_area <= 0.0:
        return None
    share = mass * min(1.0, mold.opening_area / wall_area)
    return BoardSkin(
        opening=mold.opening,
        area=mold.opening_area,
        mass=share,
        trimmed=0.0 if mold.opening == "base counts" else share,
    )


def board_notes(skin: BoardSkin | None) -> tuple[str, ...]:
    """What the board means for shot, weight and steps, in a sentence."""
    if skin is None:
        return ()
    lies = f"of the resin about {1e3 * skin.mass:.0f} g set on the {1e4 * skin.area:.0f} cm² of the"
    if skin.opening == "base counts":
        return (
            f"{lies} board and are the piece's base: use board release, take the board off slowly after every coat",
        )
    if skin.opening == "trimmed":
        return (
            f"{lies} board and are trimmed off: use board release, and mark the trim height before you saw",
        )
    return (
        f"{lies} plug and come off with it: the board stays on, pour through the hole, wipe its rim, plug it",
    )
