"""The shop's ledger: an SQLite file in the shop folder that holds castings, shots, instants and weights.

Write-ahead log with full synchronisation: what `record` has returned for is on the disk, whatever happens next.
The file must lie on a disk of this computer (write-ahead logs don't work over a network share).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from uuid import uuid4

from evenwall.bench.casting import BenchPlan
from evenwall.bench.clock import Clock, day_stamp
from evenwall.bench.events import Event, standing
from evenwall.bench.migrations import migrate
from evenwall.bench.plain import plan_from_json, plan_to_json, recipe_to_json
from evenwall.bench.recipe import Recipe, plan_of
from evenwall.errors import JobError

LEDGER_NAME = "ledger.sqlite"
BACKUPS = "backups"  # folder of the copies, beside the ledger
CASTING_COLUMNS = "id, name, begun, job, plan, folder"
EVENT_COLUMNS = tuple(field.name for field in fields(Event))


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """An opened ledger: where it lies and the clock it is kept by."""

    path: Path
    clock: Clock


@dataclass(frozen=True, kw_only=True)
class Casting:
    """A casting as it was begun."""

    id: str
    name: str
    begun: float  # [s since 1970]
    job: str  # what its plan is computed from, JSON
    plan: BenchPlan  # as planned before the first fact
    folder: str = ""  # of its job; empty: not known


@dataclass(frozen=True, kw_only=True)
class Weight:
    """A reading of the scale that counts."""

    item: str  # what was weighed
    mass: float  # [kg]
    at: float  # [s since 1970]


def open_ledger(shop: Path, *, clock: Clock) -> Ledger:
    """The ledger in the folder `shop`, made or brought up to date where needed."""
    shop.mkdir(parents=True, exist_ok=True)
    ledger = Ledger(path=shop / LEDGER_NAME, clock=clock)
    try:
        with closing(_connect(ledger.path)) as db:
            migrate(db, clock=clock)
    except sqlite3.DatabaseError as error:
        raise JobError(
            f"{ledger.path} can't be read as a ledger ({error}): put back a backup of it"
        ) from None
    return ledger


def begin(ledger: Ledger, plan: BenchPlan, *, job: str = "{}", folder: str = "") -> Casting:
    """Enter a new casting with its shots; `folder` is its job's."""
    casting = Casting(id=uuid4().hex, name=plan.name, begun=ledger.clock(), job=job, plan=plan, folder=folder)
    shots = [
        (casting.id, n, s.name, s.kind, s.mass_a, s.mass_b, s.mass_pigment) for n, s in enumerate(plan.shots)
    ]
    with writing(ledger) as db:
        row = (casting.id, casting.name, casting.begun, job, plan_to_json(plan), folder)
        db.execute(f"INSERT INTO castings ({CASTING_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?)", row)
        db.executemany("INSERT INTO shots VALUES (?, ?, ?, ?, ?, ?, ?)", shots)
    return casting


def begin_recipe(ledger: Ledger, recipe: Recipe, *, folder: str = "") -> Casting:
    """Enter a new casting of `recipe`; its plan is computed from it now and again with every new fact."""
    return begin(ledger, plan_of(recipe), job=recipe_to_json(recipe), folder=folder)


def record(ledger: Ledger, casting: str, events: Iterable[Event]) -> tuple[str, ...]:
    """Enter `events`, wholly or not at all; ids that are in the ledger afterwards. Known ids are left as they are."""
    told = tuple(events)
    names = ", ".join(EVENT_COLUMNS)
    places = ", ".join("?" * len(EVENT_COLUMNS))
    into = f"INSERT INTO instants (casting, received, {names}) VALUES (?, ?, {places}) ON CONFLICT (id) DO NOTHING"
    with writing(ledger) as db:
        if not db.execute("SELECT 1 FROM castings WHERE id = ?", (casting,)).fetchone():
            raise JobError(f"casting {casting!r} is not in {ledger.path}: begin it first")
        for event in told:
            try:
                new = db.execute(into, (casting, ledger.clock(), *astuple(event))).rowcount
            except sqlite3.IntegrityError:
                raise JobError(
                    f"shot {event.shot} is not in casting {casting!r}: begin a new casting"
                ) from None
            if new and event.kind == "reading" and event.item.startswith("mass.") and event.value is not None:
                row = (event.id, casting, event.item.removeprefix("mass."), event.value)
                db.execute("INSERT INTO weights VALUES (?, ?, ?, ?)", row)
    return tuple(event.id for event in told)


def castings(ledger: Ledger) -> tuple[Casting, ...]:
    """All castings, the newest first."""
    with reading(ledger) as db:
        rows = db.execute(
            f"SELECT {CASTING_COLUMNS} FROM castings ORDER BY begun DESC, rowid DESC"
        ).fetchall()
    return tuple(_casting(row) for row in rows)


def casting_of(ledger: Ledger, casting: str) -> Casting:
    """The casting with that id; raises JobError where there is none."""
    with reading(ledger) as db:
        row = db.execute(f"SELECT {CASTING_COLUMNS} FROM castings WHERE id = ?", (casting,)).fetchone()
    if row is None:
        raise JobError(f"casting {casting!r} is not in {ledger.path}: choose one of the list")
    return _casting(row)


def events_of(ledger: Ledger, casting: str) -> tuple[Event, ...]:
    """Every event of a casting in order of arrival, undone ones too."""
    names = ", ".join(EVENT_COLUMNS)
    with reading(ledger) as db:
        rows = db.execute(
            f"SELECT {names} FROM instants WHERE casting = ? ORDER BY number", (casting,)
        ).fetchall()
    return tuple(Event(**dict(zip(EVENT_COLUMNS, row, strict=True))) for row in rows)


def weights_of(ledger: Ledger, casting: str) -> tuple[Weight, ...]:
    """The readings of the scale that count, in order of time."""
    with reading(ledger) as db:
        rows = db.execute("SELECT instant, item, mass FROM weights WHERE casting = ?", (casting,)).fetchall()
    known = {instant: (item, mass) for instant, item, mass in rows}
    counted = [event for event in standing(events_of(ledger, casting)) if event.id in known]
    return tuple(Weight(item=known[e.id][0], mass=known[e.id][1], at=e.at) for e in counted)


def backup(ledger: Ledger, folder: Path) -> Path:
    """Copy the ledger into `folder` while it is in use; the copy's path. It appears only when it is whole."""
    folder.mkdir(parents=True, exist_ok=True)
    copy = folder / f"ledger-{day_stamp(ledger.clock())}.sqlite"
    part = copy.with_suffix(".part")
    part.unlink(missing_ok=True)
    with closing(_connect(ledger.path)) as source, closing(sqlite3.connect(part)) as target:
        source.backup(target, pages=256)
        target.execute("PRAGMA journal_mode = DELETE")
    part.replace(copy)
    return copy


def backup_daily(ledger: Ledger, *, keep: int = 14) -> Path | None:
    """Back up beside the ledger unless the newest copy is younger than a day; all but the `keep` newest go."""
    folder = ledger.path.parent / BACKUPS
    copies = sorted(folder.glob("ledger-*.sqlite"))
    if copies and ledger.clock() - copies[-1].stat().st_mtime < 86_400.0:
        return None
    made = backup(ledger, folder)
    for old in copies[: max(0, len(copies) + 1 - keep)]:
        old.unlink(missing_ok=True)
    return made


@contextmanager
def writing(ledger: Ledger) -> Iterator[sqlite3.Connection]:
    """One transaction that writes: kept when the block ends, undone when it raises."""
    with closing(_connect(ledger.path)) as db:
        db.execute("BEGIN IMMEDIATE")
        try:
            yield db
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")


@contextmanager
def reading(ledger: Ledger) -> Iterator[sqlite3.Connection]:
    """A connection to read with."""
    with closing(_connect(ledger.path)) as db:
        yield db


def _connect(path: Path) -> sqlite3.Connection:
    """A connection in autocommit mode that waits for other writers and loses nothing it has committed."""
    db = sqlite3.connect(path, timeout=10.0, isolation_level=None)
    for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
        db.execute(f"PRAGMA {setting}")
    return db


def _casting(row: tuple[str, str, float, str, str, str]) -> Casting:
    found, name, begun, job, plan, folder = row
    return Casting(id=found, name=name, begun=begun, job=job, plan=plan_from_json(plan), folder=folder)
