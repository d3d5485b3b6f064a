"""A job folder opened: job.toml and the files it names become one job in SI."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from evenwall.errors import JobError, MeshError
from evenwall.files.estimate_file import estimated_piece
from evenwall.files.job_file import read_job_file
from evenwall.files.job_schema import JobFile
from evenwall.files.mesh_file import MeshReading, read_mesh
from evenwall.files.mesh_scale import Distance
from evenwall.files.resin_file import load_resin
from evenwall.files.resin_shelf import resin_path
from evenwall.film.state import Cap, Floats, Rubber
from evenwall.geometry.shrink import cavity_factor
from evenwall.geometry.solid import measures
from evenwall.geometry.surface import IntArray, Surface
from evenwall.job import Job, Mold, Piece, Shop, Turning
from evenwall.plan.costs import Prices
from evenwall.plan.shots import WallWish
from evenwall.plan.weighout import MixingCup
from evenwall.resin.data import Filler, Resin
from evenwall.resin.filler import filled
from evenwall.resin.today import Witness
from evenwall.units import to_si

_CORNERS = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]], dtype=np.float64)
NO_PIECE: Final = Piece(
    surface=Surface(_CORNERS, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])),
    area_band=(0.0, 0.0),
    volume_band=(0.0, 0.0),
)


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A job folder as it was read."""

    folder: Path
    file: JobFile  # job.toml, checked
    job: Job  # the same in SI
    reading: MeshReading | None  # the mesh and what was mended; None without a scan


def open_job(folder: Path) -> Opened:
    """Read `folder`; JobError, MeshError or ResinError in one sentence where something is amiss."""
    file = read_job_file(folder)
    return job_of(folder, file)


def job_of(folder: Path, file: JobFile) -> Opened:
    """The job of a checked job.toml whose files lie in `folder`."""
    resin = resin_of(folder, file)
    if file.piece.mesh is None and file.piece.readings:
        piece = estimated_piece(file)
        return Opened(folder=folder, file=file, job=job_from(file, resin, piece), reading=None)
    reading = mesh_of(folder, file, resin)
    piece = scanned_piece(reading, file)
    return Opened(folder=folder, file=file, job=job_from(file, resin, piece), reading=reading)


def resin_of(folder: Path, file: JobFile) -> Resin:
    """The job's resin: a TOML file of the folder, or one of evenwall's own list."""
    name, share = file.resin.name, file.resin.filler_percent / 100.0
    resin = load_resin(resin_path(folder, name) or name)
    if not share:
        return resin
    if file.resin.filler_density_g_mL is None:
        raise JobError(
            f"resin.filler_percent = {file.resin.filler_percent:g} needs resin.filler_density_g_mL: "
            "type the density of the filler's grains"
        )
    powder = Filler(name="filler", density=to_si(file.resin.filler_density_g_mL, "g/mL"))
    made = filled(resin, powder, share)
    if made.too_thick:
        raise JobError(
            f"{file.resin.filler_percent:g} % of filler make the fresh mix {made.viscosity_factor:.0f} times as thick, "
            "too thick to pour: use less filler"
        )
    return made.resin


def shop_only(file: JobFile, resin: Resin) -> Job:
    """The job while nothing is known of its piece: for what only resin, shop and mold decide."""
    return job_from(file, resin, NO_PIECE)


def mesh_of(folder: Path, file: JobFile, resin: Resin) -> MeshReading:
    """The job's mesh as read and mended, at the size of the mold's cavity, z up."""
    piece = file.piece
    if piece.mesh is None:
        raise JobError(
            f"{folder}: piece.mesh is missing: copy the piece's mesh into the folder and name it there, "
            "or give readings without a scan (piece.readings)"
        )
    return read_mesh(
        inside(folder, piece.mesh),
        unit=piece.unit,
        height=None if piece.height_mm is None else to_si(piece.height_mm, "mm"),
        up=piece.up,
        distance=_distance(file),
        factor=_allowance(file, resin),
        turned=True,
        answers=piece.answers,
        refused=frozenset(piece.refuse),
        rebuild=piece.rebuild,
    )


def _distance(file: JobFile) -> Distance | None:
    """The picked points and what was measured between them."""
    piece = file.piece
    if piece.distance_mm is None:
        return None
    if len(piece.between) != 2:
        raise JobError(
            f"piece.distance_mm = {piece.distance_mm:g} needs two points in piece.between, there are "
            f"{len(piece.between)}: pick two places on the mesh"
        )
    (a, b, c), (d, e, f) = piece.between
    return (a, b, c), (d, e, f), to_si(piece.distance_mm, "mm")


def _allowance(file: JobFile, resin: Resin) -> float:
    """Lengths of the cavity over those of what was scanned."""
    piece = file.piece
    sheet = resin.sheet.shrinkage
    told = piece.resin_shrink_percent
    return cavity_factor(
        piece.scan_of,
        mold_shrinkage=piece.mold_shrink_percent / 100.0,
        resin_shrinkage=told / 100.0 if told is not None else sheet.number if sheet is not None else 0.0,
    )


def inside(folder: Path, name: str) -> Path:
    """The path of a file that a job names; JobError where it would lie outside the folder."""
    path = (folder / name).resolve()
    if not path.is_relative_to(folder.resolve()):
        raise JobError(f"{name} lies outside the job folder {folder}: copy the file into it")
    return path


def scanned_piece(reading: MeshReading, file: JobFile) -> Piece:
    """The piece of a scan, its bands from filled holes; MeshError where it was left open."""
    if not reading.closed:
        raise MeshError(
            f"the piece is still open along {reading.open_edges} edges because a repair was refused: "
            "take its name out of piece.refuse, or close the mesh elsewhere"
        )
    widest = max(reading.openings, key=lambda opening: opening.area, default=None)
    return Piece(
        surface=reading.surface,
        area_band=reading.area_band,
        volume_band=reading.volume_band,
        opening=widest.role if widest is not None else "closed",
        opening_area=sum(opening.area for opening in reading.openings),
        cap=cap_of(reading.surface, capped(reading)),
        sides={name: (x, y, z) for name, (x, y, z) in file.piece.sides.items()},
    )


def capped(reading: MeshReading) -> IntArray:
    """Faces (k,) of the piece that close its scan's wide openings."""
    return np.concatenate([np.empty(0, dtype=np.int64), *(opening.faces for opening in reading.openings)])


def cap_of(surface: Surface, faces: IntArray) -> Cap | None:
    """Where the board or plug sits; None where no face (k,) is known to lie on it."""
    return Cap(wall=surface, faces=faces) if len(faces) else None


def job_from(file: JobFile, resin: Resin, piece: Piece, *, middle: Floats | None = None) -> Job:
    """The job in SI, of a resin and a piece that were read before; `middle`: its centroid where that is known [m]."""
    air = to_si(file.shop.air_C, "C")
    crossing = file.turning.crossing_mm
    if crossing is not None:
        middle = np.array([to_si(x, "mm") for x in crossing])
    elif middle is None:
        middle = measures(piece.surface).centroid
    return Job(
        name=file.name,
        piece=piece,
        resin=resin,
        wish=_wish(file, resin),
        mold=_mold(file, piece),
        shop=Shop(
            air=air,
            resin=air if file.shop.resin_C is None else to_si(file.shop.resin_C, "C"),
            mold=air if file.shop.mold_C is None else to_si(file.shop.mold_C, "C"),
            humidity=file.shop.humidity_percent / 100.0,
            scale_step=to_si(file.shop.scale_step_g, "g"),
            cups=tuple(to_si(cup, "mL") for cup in file.shop.cups_mL),
            stir=file.shop.stir_s,
            pour=file.shop.pour_s,
            close=file.shop.close_s,
            wet=file.shop.wet_s,
            brush=file.shop.brush_s,
            hands=file.shop.hands,
            witness=_witness(file),
            volume_cup=_volume_cup(file),
        ),
        turning=Turning(
            pattern=file.turning.pattern,
            frame_rate=to_si(file.turning.frame_rpm, "rpm"),
            cradle_rate=to_si(file.turning.cradle_rpm, "rpm"),
            stop_after=_seconds(file.turning.stop_after_min),
        ),
        crossing=middle,
        prices=_prices(file, resin),
        pigment=file.resin.pigment_percent / 100.0,
        tinted_coats=file.resin.tinted_coats,
        brush=file.wall.brush,
        cleaning_shot=file.wall.cleaning_shot,
    )


def _witness(file: JobFile) -> Witness:
    kind, grams = file.shop.witness, file.shop.witness_g
    if kind == "rest":
        return Witness()
    usual = 5.0 if kind == "thin layer" else 30.0
    return Witness(
        kind="thin" if kind == "thin layer" else "poured", mass=to_si(usual if grams is None else grams, "g")
    )


def _volume_cup(file: JobFile) -> MixingCup | None:
    sizes = [to_si(size, "mm") for size in file.shop.volume_cup_mm]
    if not sizes:
        return None
    if len(sizes) != 3:
        raise JobError(
            f"shop.volume_cup_mm has {len(sizes)} numbers, 3 are needed: width at bottom, at rim, height"
        )
    return MixingCup(bottom=sizes[0], top=sizes[1], height=sizes[2])


def _wish(file: JobFile, resin: Resin) -> WallWish:
    wall = file.wall
    usual = to_si(wall.target_wall_mm, "mm")
    return WallWish(
        usual=usual,
        least=0.5 * usual if wall.least_wall_mm is None else to_si(wall.least_wall_mm, "mm"),
        coats=wall.coats,
        volumes=tuple(to_si(shot, "g") / resin.density for shot in wall.shots_g),
    )


def _mold(file: JobFile, piece: Piece) -> Mold:
    mold = file.mold
    return Mold(
        rubber=Rubber(
            conductivity=mold.rubber_conductivity_W_mK,
            density=to_si(mold.rubber_density_g_mL, "g/mL"),
            heat_capacity=mold.rubber_heat_J_kgK,
            thickness=to_si(mold.rubber_mm, "mm"),
        ),
        heat_limit=to_si(mold.rubber_limit_C, "C"),
        opening=mold.opening or piece.opening,
        opening_area=piece.opening_area if mold.opening_cm2 is None else to_si(mold.opening_cm2, "cm2"),
        sealed=mold.sealed,
    )


def _prices(file: JobFile, resin: Resin) -> Prices:
    costs = file.costs
    sheet = resin.sheet.price
    known = sheet is not None and resin.sheet.currency == costs.currency
    return Prices(
        currency=costs.currency,
        resin=costs.resin_per_kg
        if costs.resin_per_kg is not None
        else sheet.number
        if sheet and known
        else None,
        pigment=costs.pigment_per_kg,
        filler=costs.filler_per_kg,
        hour=costs.hour,
        mold=costs.mold_price,
        mold_castings=costs.mold_castings,
    )


def _seconds(minutes: float | None) -> float | None:
    return None if minutes is None else to_si(minutes, "min")
