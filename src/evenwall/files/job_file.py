"""The job folder: job.toml read, checked, written whole or not at all, and locked against a second writer."""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import filelock
import tomlkit
from pydantic import ValidationError

from evenwall.errors import JobError
from evenwall.files.job_schema import FORMAT, JobFile
from evenwall.files.mesh_scale import AXES, upright
from evenwall.geometry.surface import FloatArray

NAME: Final = "job.toml"
LOCK: Final = ".lock"


def _say_what_shrinks_and_turn(tables: dict[str, Any]) -> dict[str, Any]:
    """Format 1 left the mesh lying and said how much smaller the casting is than the model.

    Format 2 turns the mesh's `up` to z, and says what was scanned and what shrinks.
    """
    piece = dict(tables.get("piece") or {}) if isinstance(tables.get("piece", {}), dict) else {}
    share = piece.pop("shrink_percent", 0.0)
    if isinstance(share, int | float) and share < 0:
        piece |= {"scan_of": "casting", "resin_shrink_percent": 100.0 - 100.0 / (1.0 - share / 100.0)}
    elif share:
        piece |= {"scan_of": "master", "mold_shrink_percent": share}
    after = tables | ({"piece": piece} if piece else {})
    up = piece.get("up", "z")
    if up == "z" or up not in AXES:
        return after
    turn = upright(up)
    if isinstance(piece.get("sides"), dict):
        piece["sides"] = {name: _turned(turn, way) for name, way in piece["sides"].items()}
    for section, key in (("turning", "crossing_mm"), ("mold", "outer_mm")):
        table = after.get(section)
        if isinstance(table, dict) and key in table:
            moved = _turned(turn, table[key])
            after |= {section: table | {key: moved if key == "crossing_mm" else [abs(x) for x in moved]}}
    return after


def _turned(turn: FloatArray, values: Any) -> Any:
    """Three numbers turned; anything else as it is, to be refused later."""
    if isinstance(values, list) and len(values) == 3 and all(isinstance(v, int | float) for v in values):
        return [float(x) for x in turn @ values]
    return values


#: forward migrations: the function at N turns the tables of format N into those of format N + 1
MIGRATIONS: Final[dict[int, Callable[[dict[str, Any]], dict[str, Any]]]] = {1: _say_what_shrinks_and_turn}


def read_job_file(folder: Path) -> JobFile:
    """The checked content of `folder`/job.toml; JobError in one sentence where it can't be used."""
    path = folder / NAME
    try:
        text = path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise JobError(f"{folder} has no {NAME}: make a job with `evenwall new {folder}`") from None
    except UnicodeDecodeError as error:
        raise JobError(f"{path}: byte {error.start} is not UTF-8 text: save the file as UTF-8") from None
    except OSError as error:
        raise JobError(f"{path} can't be read ({error.strerror}): check the folder's permissions") from None
    return parse_job(text, where=str(path))


def parse_job(text: str, *, where: str = NAME) -> JobFile:
    """The checked content of a job.toml's text; `where` names it in an error."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"{where} is not valid TOML: {error}") from None
    found = tables.get("format", FORMAT)
    if not isinstance(found, int) or not 1 <= found <= FORMAT:
        raise JobError(
            f"{where}: format = {found!r}, but this evenwall reads 1 to {FORMAT}: get a newer evenwall"
        )
    for step in range(found, FORMAT):
        tables = MIGRATIONS[step](tables)
    return check_job(tables | {"format": FORMAT}, where=where)


def check_job(tables: dict[str, Any], *, where: str = NAME) -> JobFile:
    """Tables as of the newest format, checked; JobError names the first key that is wrong, and why."""
    try:
        return JobFile.model_validate(tables)
    except ValidationError as error:
        raise JobError(f"{where}: {first_fault(error)}") from None


def first_fault(error: ValidationError) -> str:
    """The first fault of a pydantic error as `key = value: what is wrong`."""
    fault = error.errors()[0]
    key = ".".join(str(part) for part in fault["loc"])
    if fault["type"] == "extra_forbidden":
        return f"{key} is not a key that evenwall knows: see docs/job-file.md for those it does"
    return f"{key} = {fault['input']!r}: {fault['msg'][0].lower()}{fault['msg'][1:]}"


def job_text(job: JobFile, *, before: str = "") -> str:
    """job.toml's text for `job`; comments and order of the text `before` are kept."""
    document = tomlkit.parse(before)
    _merge(document, job.model_dump(mode="json", exclude_none=True, exclude_unset=True) | {"format": FORMAT})
    return tomlkit.dumps(document)


def write_job_file(folder: Path, job: JobFile) -> None:
    """Write `folder`/job.toml whole or not at all; comments that stand in it stay."""
    path = folder / NAME
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    write_whole(path, job_text(job, before=before).encode("utf-8"))


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader, a crash or a full disk sees the old content or the new."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the job folder for writing; JobError if another evenwall holds it."""
    lock = filelock.FileLock(folder / LOCK, timeout=2)
    try:
        lock.acquire()
    except filelock.Timeout:
        raise JobError(
            f"{folder} is in use by another evenwall: close that one, or wait until it is done"
        ) from None
    try:
        yield
    finally:
        lock.release()


def _merge(document: Any, values: dict[str, Any]) -> None:
    for key in [key for key in document if key not in values]:
        del document[key]
    for key, value in values.items():
        if isinstance(value, dict) and key in document:
            _merge(document[key], value)
        elif key not in document or document[key] != value:
            document[key] = value
