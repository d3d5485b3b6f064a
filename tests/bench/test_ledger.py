from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from evenwall.bench import ledger as book
from evenwall.bench.casting import BenchPlan
from evenwall.bench.migrations import MIGRATIONS, migrate
from evenwall.bench.plain import events_from, plan_to_json
from evenwall.errors import JobError

WRITER = """
import sys, itertools
from pathlib import Path
from evenwall.bench import ledger as book
from evenwall.bench.events import Event
opened = book.open_ledger(Path(sys.argv[1]), clock=lambda: 0.0)
plan = book.casting_of(opened, sys.argv[2]).plan
for n in itertools.count():
    names = [f"{sys.argv[3]}-{n}-{side}" for side in "ab"]
    pair = [Event(id=name, kind="reading", item="mass.0.a", value=0.04, at=float(n)) for name in names]
    book.record(opened, sys.argv[2], pair)
    begun = book.begin(opened, plan, folder=f"{sys.argv[3]}-{n}")
    book.backup(opened, opened.path.parent / "backups")
    print(n, begun.id, flush=True)
"""


@pytest.fixture
def opened(tmp_path: Path) -> book.Ledger:
    return book.open_ledger(tmp_path / "shop", clock=lambda: 1000.0)


def test_a_killed_writer_has_lost_nothing_it_acknowledged(opened, plan: BenchPlan) -> None:
    casting = book.begin(opened, plan)
    for life, acknowledgements in enumerate((1, 7, 23)):
        words = [sys.executable, "-c", WRITER, str(opened.path.parent), casting.id, f"life{life}"]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            told = [writer.stdout.readline() for _ in range(acknowledgements)]
            writer.kill()
            told += writer.stdout.readlines()  # what it acknowledged while the kill was under way
        ids = {event.id for event in book.events_of(opened, casting.id)}
        acknowledged = [line.split() for line in told if line.endswith("\n")]
        assert {f"life{life}-{n}-{side}" for n, _ in acknowledged for side in "ab"} <= ids
        castings = {one.id: one for one in book.castings(opened)}
        assert {begun for _, begun in acknowledged} <= castings.keys()
        assert all(len(one.plan.shots) == len(plan.shots) for one in castings.values())
        of_this_life = [name for name in ids if name.startswith(f"life{life}-")]
        assert len(of_this_life) % 2 == 0, "a pair was entered by half"
        assert len(book.weights_of(opened, casting.id)) == len(ids)
    for file in (opened.path, *(opened.path.parent / "backups").glob("*.sqlite")):
        with sqlite3.connect(file) as db:
            assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",), file
            assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        db.close()


def test_a_press_arrives_once(opened, plan, press) -> None:
    casting = book.begin(opened, plan)
    first = press("mixed", 5.0, shot=0)
    again = press("mixed", 9.0, shot=0, id=first.id)
    assert book.record(opened, casting.id, [first]) == (first.id,)
    assert book.record(opened, casting.id, [again, first]) == (first.id, first.id)
    assert book.events_of(opened, casting.id) == (first,)


def test_many_writers_at_once_lose_nothing(opened, plan, press) -> None:
    casting = book.begin(opened, plan)
    batches = [[press("note", float(n), text="x") for n in range(10)] for _ in range(6)]
    threads = [threading.Thread(target=book.record, args=(opened, casting.id, batch)) for batch in batches]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(book.events_of(opened, casting.id)) == 60


def test_a_batch_is_entered_wholly_or_not_at_all(opened, plan, press) -> None:
    casting = book.begin(opened, plan)
    with pytest.raises(JobError, match="shot 9 is not in casting"):
        book.record(opened, casting.id, [press("mixed", 1.0, shot=0), press("mixed", 2.0, shot=9)])
    assert book.events_of(opened, casting.id) == ()
    with pytest.raises(JobError, match="begin it first"):
        book.record(opened, "nobody", [press("mixed", 1.0, shot=0)])


def test_entries_can_not_be_changed(opened, plan, press) -> None:
    casting = book.begin(opened, plan)
    book.record(opened, casting.id, [press("mixed", 1.0, shot=0)])
    for change in ("UPDATE instants SET at = 2", "DELETE FROM instants"):
        with book.reading(opened) as db, pytest.raises(sqlite3.IntegrityError, match="only grows"):
            db.execute(change)


def test_weights_that_were_undone_do_not_count(opened, plan, press) -> None:
    casting = book.begin(opened, plan)
    wrong = press("reading", 1.0, item="mass.0.a", value=0.4)
    right = press("reading", 2.0, item="mass.0.a", value=0.04)
    room = press("reading", 3.0, item="room", value=290.0)
    book.record(opened, casting.id, [wrong, right, room, press("undo", 4.0, target=wrong.id)])
    assert [(w.item, w.mass) for w in book.weights_of(opened, casting.id)] == [("0.a", 0.04)]


def test_castings_come_back_as_they_were_begun(opened, plan) -> None:
    one, two = book.begin(opened, plan, job='{"folder": "here"}'), book.begin(opened, plan)
    assert {c.id for c in book.castings(opened)} == {one.id, two.id}
    assert book.casting_of(opened, one.id) == one
    with pytest.raises(JobError, match="choose one of the list"):
        book.casting_of(opened, "nobody")


def test_backup_while_writing_is_whole(opened, plan, press, tmp_path) -> None:
    casting = book.begin(opened, plan)
    stop = threading.Event()

    def write() -> None:
        while not stop.is_set():
            book.record(opened, casting.id, [press("note", 1.0), press("note", 1.0)])

    writer = threading.Thread(target=write)
    writer.start()
    while len(book.events_of(opened, casting.id)) < 10:
        pass
    copy = book.backup(opened, tmp_path / "backups")
    stop.set()
    writer.join()
    assert not list(copy.parent.glob("*.part"))
    with sqlite3.connect(copy) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        (count,) = db.execute("SELECT count(*) FROM instants").fetchone()
    db.close()
    assert count >= 10
    assert count % 2 == 0


def test_a_migration_that_is_killed_half_way_leaves_no_trace(tmp_path) -> None:
    shop = tmp_path / "shop"
    script = """
import sys, os, signal, sqlite3
from pathlib import Path
from evenwall.bench import ledger as book, migrations
def killed(db):
    db.execute("CREATE TABLE half (x INTEGER) STRICT")
    os.kill(os.getpid(), signal.SIGKILL)
shop = Path(sys.argv[1]); shop.mkdir()
db = sqlite3.connect(shop / book.LEDGER_NAME, isolation_level=None)
db.execute("PRAGMA journal_mode = WAL")
migrations.migrate(db, clock=lambda: 0.0, migrations=(*migrations.MIGRATIONS[:1], killed))
"""
    assert subprocess.run([sys.executable, "-c", script, str(shop)], check=False).returncode != 0
    opened = book.open_ledger(shop, clock=lambda: 0.0)
    with book.reading(opened) as db:
        tables = {name for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert "half" not in tables
    assert {"castings", "instants", "doors"} <= tables


def test_a_ledger_from_before_is_brought_forward_with_its_castings(tmp_path, plan) -> None:
    db = sqlite3.connect(tmp_path / book.LEDGER_NAME, isolation_level=None)
    migrate(db, clock=lambda: 0.0, migrations=MIGRATIONS[:2])
    db.execute("INSERT INTO castings VALUES ('old', 'ammonite', 7.0, '{}', ?)", (plan_to_json(plan),))
    db.close()
    opened = book.open_ledger(tmp_path, clock=lambda: 1.0)
    (old,) = book.castings(opened)
    assert (old.id, old.begun, old.plan, old.folder) == ("old", 7.0, plan, "")


def test_a_daily_backup_is_made_once_a_day_and_old_ones_go(tmp_path) -> None:
    days = [time.time()]
    opened = book.open_ledger(tmp_path, clock=lambda: days[0])
    made = [book.backup_daily(opened, keep=3)]
    assert made[0] is not None
    assert book.backup_daily(opened) is None, "there is one of today"
    for _ in range(4):
        days[0] += 100_000.0
        made.append(book.backup_daily(opened, keep=3))
    kept = sorted((tmp_path / book.BACKUPS).iterdir())
    assert kept == sorted(file for file in made[-3:] if file)


def test_a_migration_that_fails_leaves_no_trace(tmp_path) -> None:
    def fails(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half (x INTEGER) STRICT")
        raise RuntimeError("half way")

    db = sqlite3.connect(tmp_path / "x.sqlite", isolation_level=None)
    with pytest.raises(RuntimeError):
        migrate(db, clock=lambda: 0.0, migrations=(*MIGRATIONS, fails))
    tables = {name for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert "half" not in tables
    assert "instants" in tables
    assert migrate(db, clock=lambda: 0.0) == ()
    db.close()


def test_each_migration_is_applied_once_and_in_order(tmp_path) -> None:
    db = sqlite3.connect(tmp_path / "x.sqlite", isolation_level=None)
    names = tuple(migration.__name__ for migration in MIGRATIONS)
    assert migrate(db, clock=lambda: 1.0, migrations=MIGRATIONS[:1]) == names[:1]
    assert migrate(db, clock=lambda: 2.0) == names[1:]
    assert migrate(db, clock=lambda: 3.0) == ()
    db.close()


def test_a_ledger_from_a_newer_evenwall_is_refused(opened) -> None:
    with book.writing(opened) as db:
        db.execute("INSERT INTO migrations VALUES ('something_later', 0.0)")
    with pytest.raises(JobError, match="install a newer evenwall"):
        book.open_ledger(opened.path.parent, clock=lambda: 0.0)


def test_a_damaged_ledger_is_said_to_be_one(tmp_path) -> None:
    (tmp_path / book.LEDGER_NAME).write_bytes(b"not a ledger at all" * 100)
    with pytest.raises(JobError, match="put back a backup"):
        book.open_ledger(tmp_path, clock=lambda: 0.0)


@pytest.mark.parametrize(
    ("fault", "sentence"),
    [
        ({"id": "x", "kind": "sang", "at": 1.0}, "kind"),
        ({"id": "x", "kind": "mixed", "at": float("nan")}, "not finite"),
        ({"id": "x" * 99, "kind": "mixed", "at": 1.0}, "too long"),
        ({"kind": "mixed", "at": 1.0}, "id"),
    ],
)
def test_what_is_no_event_is_refused_in_one_sentence(fault, sentence) -> None:
    with pytest.raises(JobError, match=sentence) as caught:
        events_from([fault])
    assert "\n" not in str(caught.value)
