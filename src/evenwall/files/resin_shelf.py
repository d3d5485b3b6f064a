"""Where resin files lie: in the job's folder, or on the shop's shelf, the folder `resins` beside the jobs."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from evenwall.errors import JobError, ResinError
from evenwall.files.job_file import NAME, write_whole
from evenwall.files.resin_file import DEMO_RESINS, sheet_text

SHELF: Final = "resins"


def shelf(folder: Path) -> Path:
    """The shelf of the shop that the job in `folder` belongs to."""
    return folder.resolve().parent / SHELF


def resin_path(folder: Path, name: str) -> Path | None:
    """The file of the resin `name` of a job, the job's own before the shelf's; None for evenwall's own list.

    Raises JobError for a name that leads out of both.
    """
    if name in DEMO_RESINS:
        return None
    for place in (folder.resolve(), shelf(folder)):
        path = (place / name).resolve()
        if path.parent != place:
            raise JobError(f"resin {name} is no file of the job folder {folder}: copy it there")
        if path.is_file():
            return path
    return folder.resolve() / name


def resins_at_hand(folder: Path) -> tuple[str, ...]:
    """Names that the job may give its resin: evenwall's list, the job's files, the shelf's."""
    files = [*sorted(folder.glob("*.toml")), *sorted(shelf(folder).glob("*.toml"))]
    return tuple(dict.fromkeys((*DEMO_RESINS, *(path.name for path in files if path.name != NAME))))


def own_file(folder: Path, name: str) -> tuple[Path, str]:
    """The job's own file of the resin `name` and its text; for another's resin the file that a copy would get."""
    path = resin_path(folder, name)
    text = sheet_text(path or name)
    if path is not None and path.parent == folder.resolve():
        return path, text
    return folder.resolve() / (path.name if path else f"{name}.toml"), text


def new_file(folder: Path, called: str) -> Path:
    """A file name that the folder does not hold yet for a resin called so."""
    stem = re.sub(r"[^a-z0-9]+", "-", called.lower().replace("'", "")).strip("-") or "resin"
    stem = "our-resin" if stem == "job" else stem
    taken = {*(name.removesuffix(".toml") for name in resins_at_hand(folder))}
    stems = (stem, *(f"{stem}-{k}" for k in range(2, 1000)))
    return folder.resolve() / f"{next(one for one in stems if one not in taken)}.toml"


def keep_on_shelf(folder: Path, name: str) -> Path:
    """Copy the job's resin file to the shelf, for the shop's other jobs; what lies there under its name goes.

    Raises ResinError where the resin is evenwall's own.
    """
    path = resin_path(folder, name)
    if path is None:
        raise ResinError(
            f"{name} is evenwall's own and always at hand: correct a value first, then keep that"
        )
    kept = shelf(folder) / path.name
    if kept != path:
        kept.parent.mkdir(exist_ok=True)
        write_whole(kept, path.read_bytes())
    return kept
