"""Changes of the ledger's tables: named, in order, each wholly done or not at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from evenwall.bench.clock import Clock
from evenwall.errors import JobError

Migration = Callable[[sqlite3.Connection], None]


def castings_and_instants(db: sqlite3.Connection) -> None:
    """Castings, their shots, and what happened at them; instants and weights only ever grow."""
    db.execute(
        """CREATE TABLE castings (
            id TEXT PRIMARY KEY,
            name TEXT NOT NULL,
            begun REAL NOT NULL,     -- s since 1970, UTC
            job TEXT NOT NULL,       -- what the plan is computed from, JSON
            plan TEXT NOT NULL       -- the plan as it was when the casting began, JSON
        ) STRICT"""
    )
    db.execute(
        """CREATE TABLE shots (
            casting TEXT NOT NULL REFERENCES castings (id),
            place INTEGER NOT NULL,  -- from 0, in pouring order
            name TEXT NOT NULL,
            kind TEXT NOT NULL,
            mass_a REAL NOT NULL,    -- planned, kg
            mass_b REAL NOT NULL,
            mass_pigment REAL NOT NULL,
            PRIMARY KEY (casting, place)
        ) STRICT"""
    )
    db.execute(
        """CREATE TABLE instants (
            number INTEGER PRIMARY KEY,  -- order of arrival
            id TEXT NOT NULL UNIQUE,     -- made by the device that pressed
            casting TEXT NOT NULL REFERENCES castings (id),
            kind TEXT NOT NULL,
            at REAL NOT NULL,            -- when it happened, this computer's clock, s since 1970
            shot INTEGER,
            attempt INTEGER NOT NULL,
            item TEXT NOT NULL,
            value REAL,                  -- SI
            target TEXT,                 -- id of the instant that this one mends
            text TEXT NOT NULL,
            device TEXT NOT NULL,
            stamped REAL NOT NULL,       -- the device's own clock, s since 1970
            received REAL NOT NULL,
            FOREIGN KEY (casting, shot) REFERENCES shots (casting, place)
        ) STRICT"""
    )
    db.execute("CREATE INDEX instants_of_casting ON instants (casting, number)")
    db.execute(
        """CREATE TABLE weights (
            instant TEXT PRIMARY KEY REFERENCES instants (id),
            casting TEXT NOT NULL REFERENCES castings (id),
            item TEXT NOT NULL,          -- what was on the scale
            mass REAL NOT NULL           -- kg
        ) STRICT"""
    )
    for table in ("instants", "weights"):
        for change in ("UPDATE", "DELETE"):
            db.execute(
                f"""CREATE TRIGGER {table}_keep_{change.lower()} BEFORE {change} ON {table}
                BEGIN SELECT RAISE(ABORT, 'the ledger only grows: mend by a later entry'); END"""
            )


def phone_doors(db: sqlite3.Connection) -> None:
    """Network addresses opened for phones; keys are kept as hashes, so a restarted server knows its phones."""
    db.execute(
        """CREATE TABLE doors (
            number INTEGER PRIMARY KEY,
            casting TEXT NOT NULL REFERENCES castings (id),
            address TEXT NOT NULL,
            port INTEGER NOT NULL,
            key_hash TEXT NOT NULL,      -- of the key in the QR code
            phone_hash TEXT,             -- of the key that the phone got for it; NULL until used
            opened REAL NOT NULL,
            closed REAL
        ) STRICT"""
    )


def castings_know_their_job(db: sqlite3.Connection) -> None:
    """The job's folder of each casting; empty for castings from before."""
    db.execute("ALTER TABLE castings ADD COLUMN folder TEXT NOT NULL DEFAULT ''")


MIGRATIONS: tuple[Migration, ...] = (castings_and_instants, phone_doors, castings_know_their_job)


def migrate(
    db: sqlite3.Connection, *, clock: Clock, migrations: tuple[Migration, ...] = MIGRATIONS
) -> tuple[str, ...]:
    """Apply the migrations that `db` hasn't had, each in its own transaction; their names.

    `db` must be in autocommit mode (isolation_level None). Raises JobError where `db` has had one we don't know.
    """
    db.execute(
        "CREATE TABLE IF NOT EXISTS migrations (name TEXT PRIMARY KEY, applied REAL NOT NULL) STRICT, WITHOUT ROWID"
    )
    names = {migration.__name__ for migration in migrations}
    newer = sorted({name for (name,) in db.execute("SELECT name FROM migrations")} - names)
    if newer:
        raise JobError(
            f"ledger: its change {newer[0]!r} is unknown to this evenwall: install a newer evenwall"
        )
    done = []
    for migration in migrations:
        db.execute("BEGIN IMMEDIATE")
        try:
            had = db.execute("SELECT 1 FROM migrations WHERE name = ?", (migration.__name__,)).fetchone()
            if not had:
                migration(db)
                db.execute("INSERT INTO migrations VALUES (?, ?)", (migration.__name__, clock()))
                done.append(migration.__name__)
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")
    return tuple(done)
