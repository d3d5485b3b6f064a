"""What the rooms of evenwall say about a job as it stands, remembered as long as nothing that matters changes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from evenwall.errors import EvenwallError, InputError
from evenwall.files.job_schema import JobFile
from evenwall.files.open_job import inside, job_from, resin_of
from evenwall.files.resin_file import load_calibration
from evenwall.files.results import FOLDER as RESULTS
from evenwall.files.results import fingerprint, load_result
from evenwall.geometry.surface import Surface
from evenwall.job import Job, Piece, Plan
from evenwall.machine.balance import BalanceReport, balance_machine
from evenwall.machine.parts import Machine, Weight
from evenwall.plan.clock import CoatClock
from evenwall.plan.shots import CavityMeasures, cavity_measures
from evenwall.plan.weighout import ShotAmounts
from evenwall.resin.calibrate import Calibration
from evenwall.resin.data import Resin
from evenwall.resin.heat import bare_rubber
from evenwall.resin.today import CoatStory, Mix, coat_story
from evenwall.units import to_si
from evenwall.web.draft import Draft, draft, first_story

PIECE: Final = "piece"  # name of the kept account of the piece
REMEMBERED: Final = 64
SHEET_MASS: Final = 0.1  # cup to show while there is no shot yet [kg]
ROOM: Final = 0.12  # of the frame beyond the mold where its opening was not given [m]
_CORNERS = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0], [0, 0, 0.1]], dtype=np.float64)
#: a piece for what does not depend on it
STAND_IN: Final = Piece(
    surface=Surface(_CORNERS, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])),
    area_band=(0.0, 0.0),
    volume_band=(0.0, 0.0),
)
_memory: dict[tuple[str, str], Any] = {}


@dataclass(frozen=True, kw_only=True)
class Line:
    """Something said about the mesh, and the word it is known by."""

    name: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A question about the mesh that only the maker can answer."""

    name: str
    sentence: str
    options: tuple[str, ...]
    answer: str


@dataclass(frozen=True, kw_only=True)
class PieceAccount:
    """The piece as it was read or estimated: its wall and everything there is to say about it."""

    vertices: NDArray[np.float64]  # (n, 3), mold axes [m]
    faces: NDArray[np.int64]  # (m, 3)
    area: float  # [m2]
    volume: float  # [m3]
    area_band: tuple[float, float]  # what it may be [m2]
    volume_band: tuple[float, float]  # [m3]
    extents: tuple[float, float, float]  # [m]
    kind: str  # format of the file, or how it was estimated
    scan: bool  # False: a stand-in for readings without a scan
    closed: bool
    faces_read: int
    open_edges: int  # before anything was filled
    repairs: tuple[Line, ...]
    questions: tuple[Choice, ...]
    warnings: tuple[str, ...]
    middles: tuple[tuple[float, float, float], ...]  # middles of wide openings, mold axes [m]

    @property
    def surface(self) -> Surface:
        """The wall as the rooms take it."""
        return Surface(self.vertices, self.faces)


def remembered(name: str, key: object, make: Callable[[], Any]) -> Any:
    """`make()`, or what it gave for an equal `key` lately."""
    place = (name, json.dumps(key, default=str, sort_keys=True))
    if place not in _memory:
        while len(_memory) >= REMEMBERED:
            _memory.pop(next(iter(_memory)))
        _memory[place] = make()
    return _memory[place]


def piece_key(folder: Path, file: JobFile) -> str:
    """Fingerprint of all that the piece follows from; "" where there is no piece yet."""
    piece = file.piece
    if piece.mesh:
        try:
            stat = (folder / Path(piece.mesh).name).stat()
        except OSError:
            raise InputError(f"{piece.mesh} is not in the job folder: drop the mesh again") from None
        told = piece.model_dump(exclude={"readings", "sides"})
        return fingerprint("piece 1", stat.st_size, stat.st_mtime_ns, told)
    if piece.readings:
        return fingerprint("piece 1", [reading.model_dump() for reading in piece.readings])
    return ""


def kept_piece(folder: Path, file: JobFile) -> PieceAccount | None:
    """The account of the piece if it was made already and still holds."""
    key = piece_key(folder, file)
    if not key:
        return None
    place = (PIECE, key)
    if place not in _memory:
        account = load_result(folder, PIECE, PieceAccount, key=key)
        if account is None:
            return None
        _memory[place] = account
    return _memory[place]  # type: ignore[no-any-return]


def cavity(folder: Path, file: JobFile) -> CavityMeasures | None:
    """Area, volume and curvature of the piece; None while it is not read."""
    account = kept_piece(folder, file)
    if account is None:
        return None
    key = piece_key(folder, file)
    return remembered("cavity", key, lambda: cavity_measures(account.surface))  # type: ignore[no-any-return]


def calibrated(folder: Path, file: JobFile) -> Calibration:
    """The resin of the data sheet with the account of how it was found."""
    name = file.resin.name
    own = inside(folder, name) if name.endswith(".toml") else None
    stamp = _stamp_of_resin(folder, file)
    return remembered("resin", [name, stamp], lambda: load_calibration(own or name))  # type: ignore[no-any-return]


def resin_now(folder: Path, file: JobFile) -> Resin:
    """The resin as it is poured, with its filler."""
    key = [file.resin.model_dump(), _stamp_of_resin(folder, file)]
    return remembered("poured", key, lambda: resin_of(folder, file))  # type: ignore[no-any-return]


def _stamp_of_resin(folder: Path, file: JobFile) -> int:
    """When the folder's own resin file was written; 0 where the resin is of evenwall's list."""
    own = inside(folder, file.resin.name) if file.resin.name.endswith(".toml") else None
    return own.stat().st_mtime_ns if own is not None and own.is_file() else 0


def job_now(folder: Path, file: JobFile) -> Job | None:
    """The whole job in SI; None while the piece is not read."""
    account = kept_piece(folder, file)
    if account is None:
        return None
    held = account

    def make() -> Job:
        piece = Piece(
            surface=held.surface,
            stand_in=not held.scan,
            area_band=held.area_band,
            volume_band=held.volume_band,
            sides={name: (x, y, z) for name, (x, y, z) in file.piece.sides.items()},
        )
        return job_from(file, resin_now(folder, file), piece)

    return remembered("job", [*said(folder, file), file.name], make)  # type: ignore[no-any-return]


def draft_now(folder: Path, file: JobFile) -> Draft | None:
    """The shots that the wanted wall gives; None while there is no piece.

    Raises PlanError or ResinError in one sentence where no such shots can be.
    """
    job, hollow = job_now(folder, file), cavity(folder, file)
    if job is None or hollow is None:
        return None
    return remembered("draft", said(folder, file), lambda: draft(job, hollow))  # type: ignore[no-any-return]


def plan_now(folder: Path, file: JobFile) -> Plan | None:
    """The plan that forecasts have tried, if it is kept and still holds."""
    job = job_now(folder, file)
    if job is None:
        return None

    path = folder / RESULTS / "plan.json"
    try:
        stamp = path.stat().st_mtime_ns
        kept = remembered("plan key", [str(path), stamp], lambda: json.loads(path.read_bytes())["key"])
    except (OSError, ValueError, KeyError):
        return None
    wanted = remembered("plan wanted", [*said(folder, file), file.name], lambda: fingerprint("plan", job))
    if kept != wanted:
        return None
    return remembered("plan", [str(path), stamp], lambda: load_result(folder, "plan", Plan, key=kept))  # type: ignore[no-any-return]


@dataclass(frozen=True, kw_only=True)
class Day:
    """What is weighed and when it is poured: as planned, or by the wanted wall alone while no plan holds."""

    cups: tuple[ShotAmounts, ...]  # every cup, brush and cleaning shot too where planned
    coats: tuple[ShotAmounts, ...]  # of the coats alone
    times: tuple[CoatClock, ...]  # of the coats
    batch_b: float  # part B to tint in one go [kg]
    batch_pigment: float  # pigment into that batch [kg]
    open_after: float  # first opening, from the last mixing [s]
    notes: tuple[str, ...]  # where to look out
    plan: Plan | None  # None: no forecast has tried these shots yet


def day_now(folder: Path, file: JobFile) -> Day | None:
    """The day's cups and minutes; None while there is no piece."""
    planned, made = plan_now(folder, file), draft_now(folder, file)
    if made is None:
        return None
    weighed = planned.weigh_out if planned else made.weigh_out
    return Day(
        cups=weighed.shots,
        coats=tuple(shot.weigh for shot in planned.shots) if planned else made.weigh_out.shots,
        times=tuple(shot.clock for shot in planned.shots) if planned else made.clock.coats,
        batch_b=weighed.batch_b,
        batch_pigment=weighed.batch_pigment,
        open_after=planned.open_after if planned else made.clock.open_after,
        notes=() if planned else made.clock.notes,
        plan=planned,
    )


def story_now(folder: Path, file: JobFile) -> CoatStory:
    """The first shot's resin in its cup and on the wall; 100 g as on a data sheet while there is no piece."""
    job, made = job_now(folder, file), draft_now(folder, file)
    if job is not None and made is not None:
        return remembered("story", said(folder, file), lambda: first_story(job, made))  # type: ignore[no-any-return]
    found = resin_now(folder, file)
    bare = job_from(file, found, STAND_IN)
    mix = Mix(
        mass=SHEET_MASS,
        temperature=bare.shop.resin,
        air_temperature=bare.shop.air,
        poured_at=bare.shop.stir + 0.5 * bare.shop.pour,
        coat=1e-3,
    )
    behind = bare_rubber(bare.mold.rubber, bare.shop.mold)
    return remembered("story", said(folder, file), lambda: coat_story(found, mix, behind))  # type: ignore[no-any-return]


def machine_of(folder: Path, file: JobFile) -> Machine | None:
    """The machine as far as it is known; None while neither the mold's size nor the piece is.

    The mold's outer size and mass follow from the piece and the rubber round it where they were not given, and
    the frame's opening from the mold.
    """
    account = kept_piece(folder, file)
    mold, given = file.mold, file.machine
    rubber = to_si(mold.rubber_mm, "mm")
    if len(mold.outer_mm) == 3:
        outer = [to_si(x, "mm") for x in mold.outer_mm]
    elif account is not None:
        outer = [x + 2.0 * rubber for x in account.extents]
    else:
        return None
    block = outer[0] * outer[1] * outer[2] - (account.volume if account else 0.0)
    mass = (
        to_si(mold.rubber_density_g_mL, "g/mL") * block
        if mold.weight_g is None
        else to_si(mold.weight_g, "g")
    )
    opening = [to_si(x, "mm") for x in given.frame_opening_mm]
    if len(opening) < 2:
        opening = [float(np.hypot(outer[0], outer[1])) + ROOM, outer[2] + ROOM]
    shots = _poured(folder, file)
    return Machine(
        mold_mass=mass,
        mold_known="typical" if mold.weight_g is None else "weighed",
        mold_outer=(outer[0], outer[1], outer[2]),
        mold_centre=None if given.mold_center_mm is None else _vector(given.mold_center_mm),
        frame_opening=(opening[0], opening[1]),
        frame_mass=None if given.frame_weight_g is None else to_si(given.frame_weight_g, "g"),
        cradle_mass=None if given.cradle_weight_g is None else to_si(given.cradle_weight_g, "g"),
        rim=None if given.rim_mm is None else to_si(given.rim_mm, "mm"),
        axle_height=0.9 if given.axle_height_mm is None else to_si(given.axle_height_mm, "mm"),
        casting_mass=sum(shots),
        liquid_mass=max(shots, default=0.0),
        weights=tuple(Weight(name=w.name, mass=to_si(w.weight_g, "g"), count=w.count) for w in given.weights),
    )


def balance(folder: Path, file: JobFile) -> BalanceReport | None:
    """The machine's balance; None while too little is known."""
    machine = machine_of(folder, file)
    if machine is None:
        return None
    return remembered("balance", repr(machine), lambda: balance_machine(machine))  # type: ignore[no-any-return]


def _poured(folder: Path, file: JobFile) -> list[float]:
    """Masses that go into the mold [kg]; none while no shots can be had."""
    try:
        made = draft_now(folder, file)
    except EvenwallError:
        made = None
    return [shot.mass - shot.stays for shot in made.weigh_out.shots] if made else []


def said(folder: Path, file: JobFile) -> list[Any]:
    """All that amounts, minutes and turning follow from."""
    return [piece_key(folder, file), file.model_dump(exclude={"name", "units", "machine"})]


def _vector(mm: list[float]) -> tuple[float, float, float]:
    x, y, z = (to_si(value, "mm") for value in mm)
    return x, y, z
