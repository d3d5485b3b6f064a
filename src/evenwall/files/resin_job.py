"""The resin of a job folder: what is asked of it is done to its file, then it is looked at with the job's shots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from evenwall.errors import ResinError
from evenwall.files.cup_test_file import read_cup_temperatures
from evenwall.files.job_file import check_job, locked, read_job_file, write_job_file
from evenwall.files.job_schema import JobFile
from evenwall.files.open_job import job_of, resin_of, shop_only
from evenwall.files.resin_edit import (
    blank,
    changed,
    typed,
    with_cup_test,
    without_cup_test,
    write_checked,
)
from evenwall.files.resin_file import CUP_KEYS, PEDIGREES, READINGS, cup_test_from, load_calibration
from evenwall.files.resin_shelf import keep_on_shelf, new_file, own_file, resin_path
from evenwall.job import Job
from evenwall.plan.clock import Coat
from evenwall.plan.course import draft
from evenwall.plan.resin_today import SHEET_COAT, ResinToday, how_sure, resin_today
from evenwall.plan.shots import cavity_measures
from evenwall.plan.sureness import Sureness
from evenwall.resin.calibrate import Calibration
from evenwall.resin.data import CupTest
from evenwall.units import from_si


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is to be done to a job's resin, as the command line says it."""

    put: tuple[str, ...] = ()  # key=value
    source: str = ""
    pedigree: str | None = None
    new: str | None = None  # name of a resin whose sheet is begun
    use: str | None = None  # another resin
    cup: CupTest | None = None  # a test to add
    forget_cup: int | None = None
    shelf: bool = False


@dataclass(frozen=True, kw_only=True)
class ResinSeen:
    """A job's resin with everything that there is to say of it."""

    found: Calibration
    job: Job
    today: ResinToday
    sure: Sureness
    us: bool  # units to show


def done(folder: Path, asked: Asked) -> list[str]:
    """Do what is asked; a line for each thing done. ResinError or JobError in one sentence, then nothing is."""
    if asked.pedigree is not None and asked.pedigree not in PEDIGREES:
        raise ResinError(f"pedigree {asked.pedigree!r} is not one of {', '.join(PEDIGREES)}")
    lines: list[str] = []
    with locked(folder):
        file = read_job_file(folder)
        if asked.use is not None:
            load_calibration(resin_path(folder, asked.use) or asked.use)
            file = named(folder, file, asked.use)
            lines.append(f"the job's resin is {asked.use}")
        editing = asked.put or asked.cup or asked.new or asked.forget_cup is not None
        if editing:
            path, text = own_file(folder, file.resin.name)
            if asked.new is not None:
                path, text = new_file(folder, asked.new), blank(asked.new)
            write_checked(path, edited(text, asked))
            file = named(folder, file, path.name)
            lines.append(f"written: {path}")
        if asked.shelf:
            lines.append(f"kept for the shop: {keep_on_shelf(folder, file.resin.name)}")
    return lines


def edited(text: str, asked: Asked) -> str:
    """The sheet's text as asked for."""
    pedigree = next((one for one in PEDIGREES if one == asked.pedigree), None)
    text = changed(text, [typed(one, source=asked.source, pedigree=pedigree) for one in asked.put])
    if asked.forget_cup is not None:
        text = without_cup_test(text, asked.forget_cup)
    if asked.cup is not None:
        text = with_cup_test(text, asked.cup)
    return text


def named(folder: Path, file: JobFile, resin: str) -> JobFile:
    """job.toml with this resin, written if it was another."""
    if file.resin.name == resin:
        return file
    tables = file.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    tables.setdefault("resin", {})["name"] = resin
    job = check_job(tables)
    write_job_file(folder, job)
    return job


def resin_seen(folder: Path) -> ResinSeen:
    """The job's resin with the shots that its wanted wall gives, or with 100 g where there is no piece yet."""
    file = read_job_file(folder)
    name = file.resin.name
    found = load_calibration(resin_path(folder, name) or name)
    coats: tuple[Coat, ...] = (SHEET_COAT,)
    if file.piece.mesh or file.piece.readings:
        job = job_of(folder, file).job
        coats = draft(job, cavity_measures(job.piece.surface)).layers
    else:
        job = shop_only(file, resin_of(folder, file))
    return ResinSeen(
        found=found,
        job=job,
        today=resin_today(job, coats),
        sure=how_sure(job, coats),
        us=file.units == "us",
    )


def cup_test_of(texts: Sequence[str], *, readings: Path | None = None) -> CupTest | None:
    """A cup test as the command line says it, key=value, with a CSV of its temperatures; None where nothing is said."""
    if not texts and readings is None:
        return None
    row: dict[str, object] = {}
    for text in texts:
        key, given, said = (part.strip() for part in text.partition("="))
        if not given or key not in CUP_KEYS or key in READINGS:
            plain = ", ".join(one for one in CUP_KEYS if one not in READINGS)
            raise ResinError(f"cup test: {text!r} is not key=value with one of {plain}")
        row[key] = said if key == "note" else _number(key, said)
    if readings is not None:
        times, warm = read_cup_temperatures(readings)
        row["times_s"], row["temperatures_C"] = list(times), [from_si(one, "C") for one in warm]
    return cup_test_from(row, "cup test")


def _number(key: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise ResinError(f"cup test: {key} = {text!r} is not a number: type the number alone") from None
