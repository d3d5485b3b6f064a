"""A whole casting in a real browser at phone size, and what must never be lost."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace

import pytest
from bench_pages import NOW, BenchServer, open_bench, short_plan, until
from bench_server import slower_when_colder
from playwright.sync_api import Browser, Page, expect

from evenwall.bench import ledger as book
from evenwall.bench.events import Event, standing
from evenwall.bench.facts import facts_of
from evenwall.bench.ledger import begin, events_of
from evenwall.bench.plain import events_to
from evenwall.bench.run import moment, score_of

pytestmark = pytest.mark.browser
WAIT = 15_000  # ms
UTTERED = (
    "Mixing has started",
    "Pour now",
    "Close and clamp",
    "frame forth",
    "The cup has gelled",
    "Stop turning",
    "Prop it so",
    "Next coat now",
    "may be opened",
    "Dry run: closed in",
)


def presses(server: BenchServer, casting: str) -> list[tuple[str, int | None]]:
    events = standing(events_of(server.ledger, casting))
    return [(e.kind, e.shot) for e in events if e.kind in ("mixed", "gelled")]


def do(page: Page, how: str) -> None:
    if how == "keys":
        page.keyboard.press(random.choice(["PageDown", "b", " ", "Enter", "ArrowRight"]))
    else:
        page.touchscreen.tap(195, 830)


def whole_casting(page: Page, server: BenchServer, how: str, *, trouble: bool) -> None:
    """Press whenever the bar at the foot offers something that is due, to the end; in between time leaps."""
    do(page, how)  # switches sound on
    done = {"server killed": 0, "network cut": 0}
    for _ in range(2000):
        now = page.evaluate(NOW)
        if now["big"] == "DONE" and not now["press"]:
            break
        if now["press"] == "gelled" and now["cup"] <= 0:
            with trouble_under_way(page, server, done if trouble else {}):
                do(page, how)
        elif now["press"] in ("tick", "dry") or (now["press"] == "mixed" and now["stage"] in ("", "ready")):
            do(page, how)
            if now["press"] == "dry":
                server.leap(page, 20.0)  # hands close, turn and open
        else:
            server.leap(page, now["next"] + 0.1)
        page.wait_for_timeout(50)
    expect(page.locator("#big")).to_have_text("DONE", timeout=WAIT)
    expect(page.locator("#net")).to_have_text("●", timeout=WAIT)
    if trouble:
        assert done == {"server killed": 2, "network cut": 1}


@contextmanager
def trouble_under_way(page: Page, server: BenchServer, done: dict[str, int]) -> Iterator[None]:
    """What happens to the press of a cup: the server is killed, twice, then the network is cut."""
    if done.get("server killed", 2) < 2:
        server.kill()
        yield
        server.leap(page, 30.0)
        server.start()
        done["server killed"] += 1
    elif done.get("network cut", 1) < 1:
        page.context.set_offline(True)
        yield
        server.leap(page, 30.0)
        page.context.set_offline(False)
        done["network cut"] += 1
    else:
        yield


@pytest.mark.parametrize("bench_server", [10.0], indirect=True)
@pytest.mark.parametrize(("how", "trouble"), [("keys", False), ("taps", True)])
def test_a_whole_casting(browser: Browser, bench_server: BenchServer, how: str, trouble: bool) -> None:
    """By keyboard only; by taps only with the server killed twice and the network cut."""
    plan = short_plan(coats=2 if trouble else 1)
    casting = begin(bench_server.ledger, plan)
    context, page = open_bench(browser, bench_server, casting.id, ahead=40.0)
    whole_casting(page, bench_server, how, trouble=trouble)
    expected = [(kind, shot) for shot in range(len(plan.shots)) for kind in ("mixed", "gelled")]
    assert presses(bench_server, casting.id) == expected
    events = events_of(bench_server.ledger, casting.id)
    assert len({event.id for event in events}) == len(events)
    for event in standing(events):
        assert event.at == pytest.approx(
            event.stamped - 40.0, abs=0.4 * bench_server.rate
        )  # half a slow answer's way
    gaps = [
        later.at - earlier.at
        for earlier, later in zip(standing(events)[:-1], standing(events)[1:], strict=True)
        if (earlier.kind, later.kind) == ("mixed", "gelled")
    ]
    assert len(gaps) == len(plan.shots)
    assert min(gaps) >= plan.shots[0].gel_cup, "a press kept the time at which it was made"
    said = page.evaluate("window.__said")
    for words in UTTERED:
        assert any(words in text for text in said), words
    assert page.evaluate("window.__unseen") == [], "each utterance stands on the screen too"
    context.close()


def test_the_page_and_the_core_agree_on_what_happens_now(
    browser: Browser, steady_server: BenchServer
) -> None:
    """The same random events at the same instants give the same moment in both languages."""
    score = score_of(short_plan())
    chance, cases = random.Random(11), []
    for _ in range(150):
        events = random_events(chance)
        begun = [e.at for e in events if e.kind == "mixed"] or [0.0]
        cases.append(
            (events, max(begun) + chance.choice([20.0, 60.0, 80.0, 100.0, 150.0, 300.0, 700.0, 2000.0]))
        )
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    got = page.evaluate(
        """async ([score, cases]) => {
          const run = await import('/parts/bench/run.js');
          return cases.map(([events, at]) => run.moment(score, events, at));
        }""",
        [json.loads(json.dumps(asdict(score))), [(events_to(events), at) for events, at in cases]],
    )
    context.close()
    stages = set()
    for (events, at), told in zip(cases, got, strict=True):
        wanted = json.loads(json.dumps(asdict(moment(score, events, at=at))))
        for number in ("until", "lag"):
            assert told.pop(number) == pytest.approx(wanted.pop(number))
        times = [
            (one.pop("at"), other.pop("at"))
            for one, other in zip(told["instants"], wanted["instants"], strict=True)
        ]
        assert [a for a, _ in times] == pytest.approx([b for _, b in times])
        assert told == wanted
        stages.add(wanted["stage"])
    assert {"stir", "pour", "close", "wet", "turn", "rest", "ready"} <= stages, "the cases reach every stage"


def random_events(chance: random.Random) -> tuple[Event, ...]:
    events: list[Event] = []
    at = 0.0
    for n in range(chance.randrange(0, 14)):
        at += chance.expovariate(1 / 250.0)
        kind = chance.choice(
            ["mixed", "mixed", "gelled", "poured", "closed", "spoilt", "tick", "dry", "undo", "mend"]
        )
        target = chance.choice(events).id if events and kind in ("undo", "mend") else None
        item = {
            "tick": chance.choice(["safety", "weigh", "dry", "wiped.0", "between.1"]),
            "dry": chance.choice(["start", "closed"]),
        }
        shot = chance.randrange(3) if kind not in ("dry", "undo", "mend") else None
        when = at + (chance.uniform(-60, 60) if kind == "mend" else 0.0)
        events.append(
            Event(
                id=f"x{n}",
                kind=kind,  # type: ignore[arg-type]
                at=when,
                stamped=at,
                shot=shot,
                attempt=chance.choice([0, 0, 1]) if shot is not None else 0,
                item=item.get(kind, ""),
                target=target,
            )
        )
        if kind == "mixed" and chance.random() < 0.6:
            gel = at + chance.uniform(150.0, 300.0)
            events.append(replace(events[-1], id=f"g{n}", kind="gelled", at=gel, stamped=gel))
    chance.shuffle(events)
    return tuple(events)


def test_a_reload_and_a_restart_restore_the_run_exactly(browser: Browser, bench_server: BenchServer) -> None:
    casting = begin(bench_server.ledger, short_plan())
    context, page = open_bench(browser, bench_server, casting.id)
    told = """async (at) => {
      const [store, run] = await Promise.all([import('/parts/bench/store.js'), import('/parts/bench/run.js')]);
      return run.moment(store.state.score, store.events(), at);
    }"""
    page.click("#start button")
    page.evaluate("""async () => {
      const store = await import('/parts/bench/store.js');
      store.add('mixed', {shot: 1, at: store.now() - 200});
      store.add('poured', {shot: 1, at: store.now() - 120});
    }""")
    expect(page.locator("#big")).to_have_text("TURN", timeout=WAIT)
    at = bench_server.clock
    before = page.evaluate(told, at)
    bench_server.kill()
    bench_server.start()
    page.reload()
    expect(page.locator("#big")).to_have_text("TURN", timeout=WAIT)
    assert page.evaluate(told, at) == before
    restored = moment(score_of(casting.plan), events_of(bench_server.ledger, casting.id), at=at)
    assert [i["at"] for i in before["instants"]] == [i.at for i in restored.instants]
    page.evaluate("localStorage.clear()")
    page.reload()
    expect(page.locator("#big")).to_have_text("TURN", timeout=WAIT)
    assert page.evaluate(told, at) == before, "the ledger alone holds the run"
    context.close()


@pytest.mark.parametrize("bench_server", [4.0], indirect=True)
def test_five_minutes_without_network(browser: Browser, bench_server: BenchServer) -> None:
    """Presses made while the server was away keep their own times and arrive once."""
    casting = begin(bench_server.ledger, short_plan())
    context, page = open_bench(browser, bench_server, casting.id, ahead=-3600.0)
    page.click("#start button")
    mix_next(page, shot=1)
    bench_server.kill()
    killed = bench_server.clock
    bench_server.leap(page, page.evaluate(NOW)["cup"] + 1.0)
    page.wait_for_timeout(100)
    do(page, "keys")
    pressed = bench_server.clock
    bench_server.leap(page, 300.0)
    expect(page.locator("#net")).to_contain_text("wait")
    assert "gelled" not in {e.kind for e in events_of(bench_server.ledger, casting.id)}
    assert bench_server.clock - killed > 300
    bench_server.start()
    expect(page.locator("#net")).to_have_text("●", timeout=WAIT)
    gelled = [e for e in events_of(bench_server.ledger, casting.id) if e.kind == "gelled"]
    assert len(gelled) == 1
    assert gelled[0].at == pytest.approx(pressed, abs=0.5 * bench_server.rate)
    context.close()


def mix_next(page: Page, *, shot: int) -> None:
    page.evaluate("async (shot) => (await import('/parts/bench/store.js')).add('mixed', {shot})", shot)
    until(
        page,
        "async () => { const s = await import('/parts/bench/store.js');"
        " return s.state.known.length > 0 && !s.state.pending.length }",
    )


def test_a_colder_room_changes_all_that_follows(browser: Browser, steady_server: BenchServer) -> None:
    """What the page shows afterwards is a fresh plan with the same facts."""
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    page.evaluate("""async () => {
      const store = await import('/parts/bench/store.js');
      store.add('mixed', {shot: 1, at: store.now() - 100});
    }""")
    page.click("#slips [name=colder]")
    page.fill("dialog input >> nth=0", "12.0")
    page.click("dialog >> text=Save")
    until(
        page,
        "async () => Math.abs((await import('/parts/bench/store.js')).state.score.plan.room - 285.15) < 0.01",
    )
    got = page.evaluate("async () => (await import('/parts/bench/store.js')).state.score.plan")
    facts = facts_of(events_of(steady_server.ledger, casting.id), shots=len(casting.plan.shots))
    fresh = slower_when_colder(book.casting_of(steady_server.ledger, casting.id), facts)
    assert got["shots"][1]["gel_film"] == fresh.shots[1].gel_film
    assert fresh.shots[1].gel_film == pytest.approx(2 * casting.plan.shots[1].gel_film, rel=1e-3)
    context.close()


def test_slips_undo_and_mending(browser: Browser, steady_server: BenchServer) -> None:
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    page.evaluate("""async () => {
      const store = await import('/parts/bench/store.js');
      store.add('mixed', {shot: 1, at: store.now() - 70});
    }""")
    expect(page.locator("#big")).to_have_text("CLOSE", timeout=WAIT)
    page.click("#slips [name=spoilt]")
    expect(page.locator("#big")).to_have_text("LET SET")
    page.keyboard.press("Backspace")
    expect(page.locator("#big")).to_have_text("CLOSE")
    page.click("#menu")
    page.click("dialog >> text=Times so far")
    row = page.locator(".times li", has_text="poured")
    expect(row).to_contain_text("inferred")
    row.locator("text=+10 s").click()
    expect(page.locator(".times li", has_text="poured")).to_contain_text("pressed")
    page.locator(".times li", has_text="mixing started").locator("text=−10 s").click()
    expect(page.locator(".times li", has_text="mixing started")).to_contain_text("mended")
    page.click("dialog .quiet")
    page.click("#undo")  # takes back the mending, not the press
    page.click("#menu")
    page.click("dialog >> text=Times so far")
    row = page.locator(".times li", has_text="mixing started")
    expect(row).to_contain_text("pressed")
    wanted = page.evaluate(
        "async () => (await import('/parts/bench/words.js')).clock(Date.now() / 1000 - 600, true)"
    )
    row.locator("input").fill(wanted)
    row.locator("input").blur()
    expect(page.locator(".times li", has_text="mixing started").locator("input")).to_have_value(wanted)
    context.close()


def test_the_clock_difference_is_that_of_the_standard(browser: Browser, steady_server: BenchServer) -> None:
    """RFC 5905, section 8: offset ((t2 - t1) + (t3 - t4)) / 2; the sample with the least delay counts."""
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id, ahead=7200.0)
    samples = [[100.0, 160.1, 160.2, 100.5], [110.0, 170.02, 170.03, 110.05]]
    got = page.evaluate("async (list) => (await import('/parts/bench/store.js')).skewOf(list)", samples)
    assert got["skew"] == pytest.approx(((170.02 - 110.0) + (170.03 - 110.05)) / 2)
    assert got["error"] == pytest.approx((0.05 - 0.01) / 2)
    measured = page.evaluate("async () => (await import('/parts/bench/store.js')).state.skew")
    assert measured == pytest.approx(-7200.0, abs=0.5)
    page.evaluate("window.__ahead = -1800.0")  # the phone's clock is set while the page is open
    until(page, "async () => Math.abs((await import('/parts/bench/store.js')).state.skew - 1800) < 0.5")
    context.close()


def test_two_metres_away(browser: Browser, steady_server: BenchServer) -> None:
    """Capitals of the shortest commands under at least 16 minutes of arc at 2 m: 9.3 mm (ISO 9241-303, from memory).

    A CSS pixel of a phone is 1/160 inch or more, so 58.6 px of capital height, in every language.
    """
    casting = begin(steady_server.ledger, short_plan())
    for language in ("en", "de"):
        context, page = open_bench(browser, steady_server, casting.id)
        page.evaluate("async (l) => (await import('/parts/bench/words.js')).set('language', l)", language)
        page.reload()
        page.wait_for_function("document.querySelector('#start h1').textContent")
        page.click("#start button")
        for ago, key in ((5, "stir"), (60, "pour"), (75, "close"), (200, "turn"), (230, "cup")):
            page.evaluate(
                """async (ago) => {
                  const store = await import('/parts/bench/store.js');
                  for (const e of store.events().filter((e) => e.kind === 'mixed')) store.add('undo', {target: e.id});
                  store.add('mixed', {shot: 1, at: store.now() - ago});
                }""",
                ago,
            )
            page.wait_for_timeout(150)
            size = page.evaluate("parseFloat(getComputedStyle(document.querySelector('#big')).fontSize)")
            assert 0.7 * size >= 58.6, (language, key, size)
            inside = page.evaluate(
                "[...document.querySelectorAll('#big span')].map((s) => s.getBoundingClientRect())"
                ".every((box) => box.left >= 0 && box.right <= innerWidth + 1)"
            )
            assert inside, (language, key)
            for width, height in ((844, 390), (390, 844)):
                page.set_viewport_size({"width": width, "height": height})
                fits = "(() => { const m = document.querySelector('main'); return m.scrollHeight <= m.clientHeight })()"
                until(page, fits)  # nothing that is said has to be scrolled for
        context.close()
