"""What the rooms of evenwall say about a job as it stands, remembered as long as nothing that matters changes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from evenwall.errors import InputError
from evenwall.files.job_schema import JobFile
from evenwall.files.machine_file import balance_of, shape_of
from evenwall.files.open_job import Opened, cap_of, job_from, resin_of, shop_only
from evenwall.files.resin_file import load_calibration
from evenwall.files.resin_shelf import resin_path
from evenwall.files.results import FOLDER as RESULTS
from evenwall.files.results import fingerprint, load_result
from evenwall.geometry.surface import Surface
from evenwall.job import Job, Piece, Plan
from evenwall.machine.balance import BalanceReport
from evenwall.plan.casting_job import Opening
from evenwall.plan.cautions import Caution, cautions_today
from evenwall.plan.clock import Clock, Coat
from evenwall.plan.course import Draft, conditions, draft, first_program
from evenwall.plan.program import Program
from evenwall.plan.resin_today import SHEET_COAT, ResinToday, how_sure, resin_today
from evenwall.plan.shots import CavityMeasures, cavity_measures
from evenwall.plan.sureness import Sureness
from evenwall.plan.weighout import WeighOut
from evenwall.resin.calibrate import Calibration
from evenwall.resin.data import Resin

PIECE: Final = "piece"  # name of the kept account of the piece
REMEMBERED: Final = 64
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
    centroid: tuple[float, float, float]  # mold axes [m]
    up: str  # the mesh's axis that was turned up, as job.toml names it
    metres_per_number: float  # scale from the mesh file's numbers [m]; 1 without a scan
    turn: NDArray[np.float64]  # rotation from the file's axes to the mold's, (3, 3)
    kind: str  # format of the file, or how it was estimated
    scan: bool  # False: a stand-in for readings without a scan
    closed: bool
    faces_read: int
    repairs: tuple[Line, ...]
    questions: tuple[Choice, ...]
    warnings: tuple[str, ...]
    middles: tuple[tuple[float, float, float], ...]  # middles of wide openings, mold axes [m]
    opening: Opening  # what the widest of them is to the casting
    opening_area: float  # of all of them [m2]
    capped: NDArray[np.int64]  # faces that close them (k,)

    @property
    def surface(self) -> Surface:
        """The wall as the rooms take it."""
        return Surface(self.vertices, self.faces)


def remembered(name: str, key: object, make: Callable[[], Any]) -> Any:
    """`make()`, or what it gave for an equal `key` lately; None is not kept, so it is made again."""
    place = (name, json.dumps(key, default=str, sort_keys=True))
    made = _memory.pop(place, None)
    if made is None and (made := make()) is None:
        return None
    while len(_memory) >= REMEMBERED:  # what was asked for longest ago is forgotten first
        _memory.pop(next(iter(_memory)), None)
    _memory[place] = made
    return made


def piece_key(folder: Path, file: JobFile) -> str:
    """Fingerprint of all that the piece follows from; "" where there is no piece yet."""
    piece = file.piece
    if piece.mesh:
        told = piece.model_dump(exclude={"readings", "sides"})
        return fingerprint("piece 4", _content(folder / Path(piece.mesh).name), told)
    if piece.readings:
        return fingerprint("piece 4", [reading.model_dump() for reading in piece.readings])
    return ""


def _content(path: Path) -> str:
    """Hash of a file's content, taken again where its size or time have changed."""
    try:
        stat = path.stat()
        seen = [str(path), stat.st_size, stat.st_mtime_ns]
        return remembered("content", seen, lambda: fingerprint(path.read_bytes()))  # type: ignore[no-any-return]
    except OSError:
        raise InputError(f"{path.name} is not in the job folder: drop the mesh again") from None


def kept_piece(folder: Path, file: JobFile) -> PieceAccount | None:
    """The account of the piece if it was made already and still holds."""
    key = piece_key(folder, file)
    if not key:
        return None
    return remembered(PIECE, key, lambda: load_result(folder, PIECE, PieceAccount, key=key))  # type: ignore[no-any-return]


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
    key = [name, _stamp_of_resin(folder, file)]
    return remembered("resin", key, lambda: load_calibration(resin_path(folder, name) or name))  # type: ignore[no-any-return]


def resin_now(folder: Path, file: JobFile) -> Resin:
    """The resin as it is poured, with its filler."""
    key = [file.resin.model_dump(), _stamp_of_resin(folder, file)]
    return remembered("poured", key, lambda: resin_of(folder, file))  # type: ignore[no-any-return]


def _stamp_of_resin(folder: Path, file: JobFile) -> str:
    """Which resin file the job reads and when it was written; "" where the resin is of evenwall's list."""
    own = resin_path(folder, file.resin.name)
    return f"{own} {own.stat().st_mtime_ns}" if own is not None and own.is_file() else ""


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
            opening=held.opening,
            opening_area=held.opening_area,
            cap=cap_of(held.surface, held.capped),
            sides={name: (x, y, z) for name, (x, y, z) in file.piece.sides.items()},
        )
        return job_from(file, resin_now(folder, file), piece, middle=np.array(held.centroid))

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

    weigh_out: WeighOut  # every cup, those of brush coat and cleaning shot too where planned
    clock: Clock  # when what is poured
    cautions: tuple[Caution, ...]  # where to look out
    plan: Plan | None  # None: no forecast has tried these shots yet


def day_now(folder: Path, file: JobFile) -> Day | None:
    """The day's cups and minutes; None while there is no piece."""
    job, planned, made = job_now(folder, file), plan_now(folder, file), draft_now(folder, file)
    if job is None or made is None:
        return None
    weighed, clock = made.weigh_out, made.clock
    if planned is not None:
        weighed = planned.weigh_out
        times = tuple(shot.clock for shot in planned.shots)
        clock = Clock(coats=times, before=planned.before, open_after=planned.open_after)
    cautions = cautions_today(job.resin, conditions(job), clock, wall=sum(made.coats))
    return Day(weigh_out=weighed, clock=clock, cautions=cautions, plan=planned)


def program_now(folder: Path, file: JobFile) -> Program | None:
    """The turning of the coats, the plan's where it holds; None while there is no piece."""
    job, planned, made = job_now(folder, file), plan_now(folder, file), draft_now(folder, file)
    if planned is not None:
        return planned.program
    if job is None or made is None:
        return None
    return remembered("turning", said(folder, file), lambda: first_program(job, made.layers[0]))  # type: ignore[no-any-return]


def today_now(folder: Path, file: JobFile) -> ResinToday:
    """What the resin does today with the job's shots; with 100 g as on a data sheet while there is no piece."""
    job, coats = _poured(folder, file)
    return remembered("today", said(folder, file), lambda: resin_today(job, coats))  # type: ignore[no-any-return]


def sure_now(folder: Path, file: JobFile) -> Sureness:
    """How sure these times are; the plan's where it holds, else it takes about a second."""
    planned = plan_now(folder, file)
    if planned is not None:
        return planned.sure
    job, coats = _poured(folder, file)
    return remembered("sure", said(folder, file), lambda: how_sure(job, coats))  # type: ignore[no-any-return]


def _poured(folder: Path, file: JobFile) -> tuple[Job, tuple[Coat, ...]]:
    job, made = job_now(folder, file), draft_now(folder, file)
    if job is not None and made is not None:
        return job, made.layers
    return shop_only(file, resin_now(folder, file)), (SHEET_COAT,)


def balance(folder: Path, file: JobFile) -> BalanceReport | None:
    """The machine's balance with the plan's shots in it; None while there is no piece."""
    job, planned = job_now(folder, file), plan_now(folder, file)
    if job is None:
        return None
    opened = Opened(folder=folder, file=file, job=job, reading=None)
    key = [*said(folder, file), file.machine.model_dump(), planned is None]
    shape = remembered("shape", piece_key(folder, file), lambda: shape_of(job.piece.surface))
    return remembered("balance", key, lambda: balance_of(opened, planned, shape=shape))  # type: ignore[no-any-return]


def said(folder: Path, file: JobFile) -> list[Any]:
    """All that amounts, minutes and turning follow from."""
    told = file.model_dump(exclude={"name", "units", "machine"})
    return [piece_key(folder, file), _stamp_of_resin(folder, file), told]
