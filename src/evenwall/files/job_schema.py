"""Every key of job.toml: its workshop unit, its default and its meaning (docs/job-file.md comes from it)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

FORMAT = 2

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Celsius = Annotated[float, Field(ge=-20, le=60)]
Triple = Annotated[list[float], Field(min_length=3, max_length=3)]


class Section(BaseModel):
    """A table of job.toml; a key that isn't known is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Reading(Section):
    """One way of knowing the piece without a scan; give the keys of the one `way`."""

    way: Literal["solid casting", "hollow casting", "shots", "dunked", "tape", "box"] = Field(
        description="how it was found: weight of a solid casting; weight of a hollow casting and caliper "
        "readings; shots that went into this mold before; dunked volume of the master; tape; bounding solid"
    )
    weight_g: Positive | None = Field(
        None, description="weight of the solid or hollow casting, or of one shot"
    )
    density_g_mL: Positive | None = Field(None, description="density of the casting's material")
    wall_mm: list[Positive] = Field([], description="caliper readings of the wall")
    shots: int = Field(1, ge=1, description="number of shots of `weight_g` each")
    volume_mL: Positive | None = Field(None, description="volume of water that the dunked master displaced")
    heights_mm: list[float] = Field([], description="tape: heights of the girths from the foot, rising")
    girths_mm: list[NotNegative] = Field([], description="tape: girth at each height (0 at a pointed end)")
    size_mm: list[Positive] = Field([], max_length=3, description="length, width and height of the piece")
    shape: str = Field("rounded", description="shape class of the bounding solid")


class Piece(Section):
    """The piece: a mesh, or readings where there is no scan."""

    mesh: str | None = Field(
        None, description="mesh file in the job folder (STL, OBJ, PLY, 3MF, GLB, or .gz)"
    )
    unit: Literal["mm", "cm", "m", "in", "ft"] | None = Field(
        None, description="the mesh's unit; needed unless the file's own standard field says it"
    )
    height_mm: Positive | None = Field(None, description="scale the mesh to this height along `up`")
    up: Literal["x", "y", "z", "-x", "-y", "-z"] | None = Field(
        None,
        description="the mesh's axis that points up; the piece is turned so that it becomes z; if not given, "
        "what the file's standard says, else z",
    )
    between: list[Triple] = Field(
        [], max_length=2, description="two points picked on the mesh, in the file's own numbers"
    )
    distance_mm: Positive | None = Field(
        None, description="scale the mesh so that the two points of `between` are this far apart"
    )
    scan_of: Literal["master", "casting", "cavity"] = Field(
        "master",
        description="what the mesh shows: the master that was molded, an earlier casting, or the cavity",
    )
    mold_shrink_percent: float = Field(
        0.0, ge=0, le=10, description="how much smaller the mold is than its master, along a line"
    )
    resin_shrink_percent: float | None = Field(
        None, ge=0, le=10, description="the same for a casting and its mold; the data sheet's if not given"
    )
    rebuild: Literal["if needed", "always"] = Field(
        "if needed",
        description="build the wall anew from distances: where the scan can't be mended, or always",
    )
    answers: dict[str, str] = Field({}, description="answers to the questions that the mesh raised")
    refuse: list[str] = Field([], description="repairs that are not wanted, by name")
    readings: list[Reading] = Field([], description="without a scan: what is known of the piece")
    sides: dict[str, Triple] = Field(
        {}, description="named sides (face, back, base): directions on the piece, z up"
    )


class Wall(Section):
    """The wall that is wanted."""

    target_wall_mm: Positive = Field(3.0, description="usual wall thickness")
    least_wall_mm: Positive | None = Field(
        None, description="least wall anywhere; half the usual if not given"
    )
    coats: int | None = Field(None, ge=1, le=12, description="number of coats; the plan chooses if not given")
    shots_g: list[Positive] = Field([], description="own shots instead of the planned ones")
    brush: bool = Field(True, description="brush the narrow places first")
    cleaning_shot: bool = Field(False, description="start with a small sacrificial shot")


class Resin(Section):
    """The resin and what is added to it."""

    name: str = Field(
        "museum-gradual",
        description="a resin of evenwall's own list, or a TOML file in the job folder or in `resins` beside it",
    )
    pigment_percent: float = Field(0.0, ge=0, le=10, description="pigment by weight of part B")
    tinted_coats: int | None = Field(
        None, ge=0, le=12, description="so many coats from the outside show and are tinted; all if not given"
    )
    filler_percent: float = Field(0.0, ge=0, le=60, description="filler by weight of the mix")
    filler_density_g_mL: Positive | None = Field(None, description="density of the filler")


class Shop(Section):
    """The shop today: temperatures, scale, cups, hands."""

    air_C: Celsius = Field(22.0, description="air of the shop")
    resin_C: Celsius | None = Field(None, description="resin in the jugs; as the air if not given")
    mold_C: Celsius | None = Field(None, description="mold; as the air if not given")
    humidity_percent: float = Field(45.0, ge=0, le=100, description="relative humidity of the air")
    scale_step_g: Positive = Field(0.1, description="smallest step of the scale")
    cups_mL: list[Positive] = Field([100.0, 250.0, 500.0, 1000.0], min_length=1, description="cups at hand")
    stir_s: Positive = Field(45.0, description="time to stir one shot, second cup included")
    pour_s: Positive = Field(20.0, description="time to pour one shot")
    close_s: Positive = Field(30.0, description="time to close the mold, from the dry run")
    wet_s: Positive = Field(40.0, description="time to turn every side down once, from the dry run")
    brush_s: Positive = Field(120.0, description="time to brush the narrow places")
    witness: Literal["rest", "thin layer", "poured cup"] = Field(
        "rest",
        description="the cup that is watched: the rest in the mixing cup; a few grams spread thin in a lid; a small "
        "cup poured with the shot",
    )
    witness_g: Positive | None = Field(
        None, description="what is poured into it: 5 if not given for a thin layer, 30 for a cup"
    )
    volume_cup_mm: list[Positive] = Field(
        [],
        max_length=3,
        description="the cup to mix by volume in, should the scale fail: inner width at the bottom, at the rim, height",
    )
    hands: int = Field(1, ge=1, le=4, description="people at the machine")


class Mold(Section):
    """The mold: its rubber, its opening and its size."""

    rubber_mm: Positive = Field(12.0, description="thickness of the rubber round the piece")
    rubber_density_g_mL: Positive = Field(1.12, description="density of the rubber (silicone, typical)")
    rubber_conductivity_W_mK: Positive = Field(0.23, description="heat conductivity of the rubber")
    rubber_heat_J_kgK: Positive = Field(1300.0, description="heat capacity of the rubber")
    rubber_limit_C: Positive = Field(180.0, description="temperature that the rubber stands")
    opening: Literal["closed", "base counts", "trimmed", "pour hole"] | None = Field(
        None,
        description="closed: no board; base counts: the board's skin is part of the piece; trimmed: it is cut off; "
        "pour hole: poured through a hole with a plug; if not given, as the scan's widest opening was answered",
    )
    opening_cm2: NotNegative | None = Field(
        None,
        description="area that the closing board or plug covers; that of the scan's openings if not given",
    )
    sealed: bool = Field(True, description="closed airtight (false: it has a vent)")
    weight_g: Positive | None = Field(None, description="weight of the mold, if it was weighed")
    outer_mm: list[Positive] = Field(
        [], max_length=3, description="outer size of the mold along the piece's x, y and z (z up)"
    )


class Turning(Section):
    """How the machine is turned."""

    pattern: Literal["hand", "constant"] = Field(
        "hand", description="hand: both ways, both axes pushed freely"
    )
    frame_rpm: float = Field(10.0, ge=-300, le=300, description="turns a minute of the frame")
    cradle_rpm: float = Field(8.0, ge=-300, le=300, description="turns a minute of the cradle in the frame")
    crossing_mm: Triple | None = Field(
        None,
        description="where the axes cross, on the scaled piece with z up; the piece's centre if not given",
    )
    stop_after_min: Positive | None = Field(
        None, description="stop turning so long after mixing; at gel if not given"
    )


class Weight(Section):
    """A counterweight that the shop owns."""

    name: str = Field(description="what it is called in the shop")
    weight_g: Positive = Field(description="its weight")
    count: int = Field(1, ge=1, description="how many of them there are")


class Machine(Section):
    """Frame and cradle; whatever is not given is typical and said to be so."""

    frame_opening_mm: list[Positive] = Field(
        [], max_length=2, description="inner opening of the frame, along the frame axis and the cradle axis"
    )
    frame_weight_g: Positive | None = Field(None, description="weight of the frame without cradle")
    cradle_weight_g: Positive | None = Field(None, description="weight of the empty cradle")
    mold_center_mm: Triple | None = Field(
        None, description="the mold's centre of mass from where the axes cross"
    )
    rim_mm: Positive | None = Field(None, description="radius at which the hand pushes")
    axle_height_mm: Positive | None = Field(None, description="height of the frame axis above the table")
    weights: list[Weight] = Field([], description="the shop's counterweights")


class Costs(Section):
    """What things cost here."""

    currency: str = Field("EUR", min_length=3, max_length=3, description="ISO 4217 code")
    resin_per_kg: NotNegative | None = Field(
        None, description="price of the mixed resin; the data sheet's if not given"
    )
    pigment_per_kg: NotNegative = Field(0.0, description="price of the pigment")
    filler_per_kg: NotNegative = Field(0.0, description="price of the filler")
    hour: NotNegative = Field(0.0, description="price of an hour of work")
    mold_price: NotNegative = Field(0.0, description="what the mold cost")
    mold_castings: int = Field(40, ge=1, description="castings that a mold lasts for")


class JobFile(Section):
    """The whole of job.toml."""

    format: int = Field(FORMAT, description="number of this format; older ones are read and brought forward")
    name: str = Field("a casting", min_length=1, max_length=120, description="what the job is called")
    units: Literal["metric", "us"] = Field("metric", description="units to show")
    piece: Piece = Piece()
    wall: Wall = Wall()
    resin: Resin = Resin()
    shop: Shop = Shop()
    mold: Mold = Mold()
    turning: Turning = Turning()
    machine: Machine = Machine()
    costs: Costs = Costs()
