"""What is put right is a new entry; what it put right is still there."""

from __future__ import annotations

import pytest

from evenwall.bench.facts import facts_of
from evenwall.bench.mending import last_entry, put_right, taken_back
from evenwall.bench.run import instants_of, score_of
from evenwall.errors import InputError


def now() -> float:
    return 5000.0


def instant(plan, events, name: str):
    found = instants_of(score_of(plan), events, shot=1, attempt=0, at=2000.0)
    return next(one for one in found if one.name == name)


def test_a_pressed_time_is_mended_and_an_inferred_one_becomes_a_fact(plan, press) -> None:
    events = [press("mixed", 1000.0, shot=1)]
    for name, at, how in (("mixed", 990.0, "mended"), ("poured", 1075.0, "pressed")):
        before = instant(plan, events, name)
        events.append(put_right(events, before, shot=1, attempt=0, at=at, clock=now, device="ledger"))
        assert (instant(plan, events, name).at, instant(plan, events, name).how) == (at, how)
    assert facts_of(events, shots=4).shots[1].poured_after == 85.0
    assert [e.kind for e in events] == ["mixed", "mend", "poured"], "nothing was overwritten"


def test_undo_takes_back_the_last_entry_mendings_too(plan, press) -> None:
    events = [press("mixed", 1000.0, shot=1)]
    mixed = instant(plan, events, "mixed")
    events.append(put_right(events, mixed, shot=1, attempt=0, at=900.0, clock=now, device="ledger"))
    for expected in (1000.0, None):
        last = last_entry(events)
        assert last is not None
        events.append(taken_back(last, clock=now, device="ledger"))
        if expected is not None:
            assert instant(plan, events, "mixed").at == expected
    assert last_entry(events) is None


def test_a_time_that_follows_from_others_is_not_mended(plan, press) -> None:
    events = [press("mixed", 1000.0, shot=1)]
    with pytest.raises(InputError, match="follows from other times"):
        put_right(events, instant(plan, events, "film"), shot=1, attempt=0, at=1.0, clock=now, device="x")
