"""Woods, boards, metals and rubber of the machine: density, stiffness and strength from handbook tables.

Wood values are means of clear wood at 12 % moisture. Knots, slope of grain and long loading take most of
it away, so they are never used as they stand: `strength.py` divides them by the factor given there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from evenwall.errors import InputError

Kind = Literal["wood", "board", "metal", "rubber"]


@dataclass(frozen=True, kw_only=True)
class Material:
    """One material of the shop."""

    name: str
    kind: Kind
    density: float  # [kg/m3]
    modulus: float  # Young's modulus in bending, along the grain [Pa]
    shear_modulus: float  # [Pa]
    strength: float  # modulus of rupture of wood and boards, yield stress of metals [Pa]
    source: str
    status: Literal["published", "from memory", "typical"]


WOOD_TABLE: Final[str] = "Wood Handbook FPL-GTR-190 (2010), Table 5-3a, clear wood at 12 % moisture"
BOARD_TABLE: Final[str] = "Wood Handbook, Table 12-1 (softwood plywood, low end); density typical"
STEEL_TABLE: Final[str] = "EN 1993-1-1, 3.2.6 (E, G, density); EN 10025-2 (yield of S235)"
ALUMINIUM_TABLE: Final[str] = "EN 1999-1-1, 3.2.5 (E, G, density); 6060 T66 round figure for the yield"


def wood_density(gravity: float, moisture: float = 0.12) -> float:
    """Density [kg/m3] of wood of specific gravity [-] (dry mass per volume as it is) at `moisture` [-].

    rho = 1000 G (1 + M), Wood Handbook, chapter 4; valid up to fibre saturation (M about 0.3).
    Example: wood_density(0.40) is 448 kg/m3.
    """
    return 1000.0 * gravity * (1.0 + moisture)


def _wood(name: str, gravity: float, rupture: float, modulus: float, *, seen: bool = True) -> Material:
    return Material(
        name=name,
        kind="wood",
        density=wood_density(gravity),
        modulus=modulus,
        shear_modulus=modulus / 16.0,
        strength=rupture,
        source=WOOD_TABLE + "; shear modulus E/16 from memory",
        status="published" if seen else "from memory",
    )


MATERIALS: Final[dict[str, Material]] = {
    material.name: material
    for material in (
        _wood("ponderosa pine", 0.40, 65e6, 8.90e9),
        _wood("red pine", 0.46, 76e6, 11.2e9),
        _wood("shortleaf pine", 0.51, 90e6, 12.1e9),
        _wood("slash pine", 0.59, 112e6, 13.7e9),
        _wood("sugar pine", 0.36, 57e6, 8.20e9),
        _wood("western white pine", 0.35, 67e6, 10.1e9),
        _wood("redwood", 0.35, 54e6, 7.60e9),
        _wood("Douglas-fir", 0.48, 85e6, 13.4e9, seen=False),
        Material(
            name="softwood plywood", kind="board", density=550.0, modulus=6.96e9, shear_modulus=0.5e9,
            strength=33.7e6, source=BOARD_TABLE, status="from memory",
        ),
        Material(
            name="steel", kind="metal", density=7850.0, modulus=210e9, shear_modulus=81e9,
            strength=235e6, source=STEEL_TABLE, status="from memory",
        ),
        Material(
            name="aluminium", kind="metal", density=2700.0, modulus=70e9, shear_modulus=27e9,
            strength=150e6, source=ALUMINIUM_TABLE, status="from memory",
        ),
        Material(
            name="silicone rubber", kind="rubber", density=1150.0, modulus=1.0e6, shear_modulus=0.33e6,
            strength=3.0e6, source="pourable mold rubbers, 1080 to 1250 kg/m3", status="typical",
        ),
    )
}  # fmt: skip


def material(name: str) -> Material:
    """The material of this name; raises InputError that lists the known ones."""
    try:
        return MATERIALS[name]
    except KeyError:
        known = ", ".join(MATERIALS)
        raise InputError(f"material {name!r} is not in the table: use one of {known}") from None
