"""The jobs that lie open: each folder's job.toml as every window sees it, with undo and redo.

The folder is the truth. A change is checked, written whole, and told to every window; a change that another program
wrote is seen within a second and can be undone like our own. What can be undone is kept beside job.toml, so a reload
or a restart loses nothing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import platformdirs

from evenwall.errors import EvenwallError, JobError
from evenwall.files.job_file import NAME, job_text, locked, parse_job, write_whole
from evenwall.files.job_schema import JobFile

CHANGES: Final = ".changes.json"
KEPT: Final = 60  # changes that can be undone


class Desk:
    """One open job folder."""

    def __init__(self, folder: Path) -> None:
        """Open `folder`; JobError where its job.toml can't be read."""
        self.folder = folder.resolve()
        self.key = key_of(self.folder)
        self.windows: list[Callable[[], None]] = []
        self.watchers: list[Callable[[], None]] = []  # of work under way
        self.fault = ""
        self.text = self._read()
        self.file = parse_job(self.text)
        self._seen = self._stamp()
        self.past, self.future = self._changes()

    def edit(self, answers: Mapping[str, Any]) -> None:
        """Set dotted keys (`wall.target_wall_mm`) to values, None to forget one.

        pydantic's ValidationError where a value is not allowed; then nothing changes.
        """
        self.look()
        text = job_text(edited(self.file, answers), before=self.text)
        if text != self.text:
            self.past, self.future = [*self.past, self.text][-KEPT:], []
            self._write(text)

    def undo(self) -> bool:
        """Take the last change back; False where there is none."""
        return self._step(self.past, self.future)

    def redo(self) -> bool:
        """Make the change again that was taken back; False where there is none."""
        return self._step(self.future, self.past)

    def look(self) -> bool:
        """Read job.toml again if another program wrote it; True where it changed what windows show."""
        stamp = self._stamp()
        if stamp == self._seen:
            return False
        self._seen = stamp
        fault, self.fault = self.fault, ""
        try:
            text = self._read()
            file = parse_job(text)
        except JobError as error:
            self.fault = str(error)
            self.tell()
            return True
        if text == self.text:
            return bool(fault)
        self.past, self.future = [*self.past, self.text][-KEPT:], []
        self.text, self.file = text, file
        self._keep_changes()
        self.tell()
        return True

    def _step(self, source: list[str], target: list[str]) -> bool:
        self.look()
        if not source:
            return False
        target.append(self.text)
        self._write(source.pop())
        return True

    def _write(self, text: str) -> None:
        file = parse_job(text)
        with locked(self.folder):
            write_whole(self.folder / NAME, text.encode())
        self.text, self.file, self.fault = text, file, ""
        self._seen = self._stamp()
        self._keep_changes()
        self.tell()

    def tell(self) -> None:
        """Have every window show the job anew."""
        for window in list(self.windows):
            window()

    def tell_work(self) -> None:
        """Have every window show the work under way anew."""
        for watcher in list(self.watchers):
            watcher()

    def _read(self) -> str:
        try:
            return (self.folder / NAME).read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise JobError(f"{self.folder / NAME} can't be read ({error}): is it a job folder?") from None

    def _stamp(self) -> tuple[int, int]:
        try:
            stat = (self.folder / NAME).stat()
        except OSError:
            return (0, 0)
        return (stat.st_mtime_ns, stat.st_size)

    def _changes(self) -> tuple[list[str], list[str]]:
        try:
            kept = json.loads((self.folder / CHANGES).read_text(encoding="utf-8"))
            return [str(text) for text in kept["past"]], [str(text) for text in kept["future"]]
        except (OSError, ValueError, KeyError, TypeError):
            return [], []

    def _keep_changes(self) -> None:
        kept = json.dumps({"past": self.past[-KEPT:], "future": self.future[-KEPT:]})
        write_whole(self.folder / CHANGES, kept.encode())


class Shop:
    """The desks that are open now and the folders that were open lately (kept in the user's state folder)."""

    def __init__(self, *, memory: Path | None = None, home: Path | None = None) -> None:
        """`memory`: file that lists the latest folders; `home`: where new jobs go; the user's own where not given."""
        self.home = home or Path.home() / "evenwall"
        self.memory = memory or Path(platformdirs.user_state_dir("evenwall", appauthor=False)) / "recent.json"
        self.desks: dict[str, Desk] = {}

    def open(self, folder: Path) -> Desk:
        """The desk of `folder`, opened if it is not; JobError where it is no job folder."""
        key = key_of(folder.resolve())
        if key not in self.desks:
            self.desks[key] = Desk(folder)
            self._remember(self.desks[key].folder)
        return self.desks[key]

    def desk(self, key: str) -> Desk | None:
        """The desk with this key, opened again if its folder was open lately; None where it is unknown."""
        if key in self.desks:
            return self.desks[key]
        folder = next((folder for folder in self.recent() if key_of(folder) == key), None)
        try:
            return self.open(folder) if folder else None
        except EvenwallError:
            return None

    def recent(self) -> list[Path]:
        """Folders that were open lately and still hold a job, newest first."""
        try:
            folders = [Path(name) for name in json.loads(self.memory.read_text(encoding="utf-8"))]
        except (OSError, ValueError, TypeError):
            return []
        return [folder for folder in folders if (folder / NAME).is_file()]

    def _remember(self, folder: Path) -> None:
        latest = [folder, *(other for other in self.recent() if other != folder)][:12]
        self.memory.parent.mkdir(parents=True, exist_ok=True)
        write_whole(self.memory, json.dumps([str(path) for path in latest]).encode())


def key_of(folder: Path) -> str:
    """The word that stands for a folder in addresses; the same at every start."""
    return hashlib.sha256(str(folder).encode()).hexdigest()[:12]


def value_at(file: JobFile, key: str) -> tuple[Any, bool]:
    """The value at a dotted key, and whether the job says it (False: it is the default)."""
    place: Any = file
    said = True
    for part in key.split("."):
        if isinstance(place, list):
            if int(part) >= len(place):
                return None, False
            place = place[int(part)]
        elif isinstance(place, dict):
            said = said and part in place
            place = place.get(part)
        else:
            said = said and part in place.model_fields_set
            place = getattr(place, part)
    return place, said


def edited(file: JobFile, answers: Mapping[str, Any]) -> JobFile:
    """The job with dotted keys set to values, None to forget one; pydantic's ValidationError where that can't be."""
    tables = file.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    for key, value in answers.items():
        _put(tables, key.split("."), value)
    return JobFile.model_validate(tables)


def _put(tables: Any, parts: list[str], value: Any) -> None:
    """Set a dotted key in nested tables and lists; None removes it."""
    head, rest = parts[0], parts[1:]
    index: Any = int(head) if isinstance(tables, list) else head
    if not rest:
        if value is not None:
            tables[index] = value
        elif isinstance(tables, dict):
            tables.pop(index, None)
        return
    tables = tables.setdefault(index, {}) if isinstance(tables, dict) else tables[index]
    _put(tables, rest, value)
