"""What the page does with the browser's own means: voice, listening, shaking, keeping awake, tones, photos."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bench_pages import BenchServer, open_bench, short_plan, until
from playwright.sync_api import Browser, Page, expect

from evenwall.bench.casting import Move
from evenwall.bench.events import standing
from evenwall.bench.ledger import begin, events_of

pytestmark = pytest.mark.browser
WAIT = 15_000  # ms
DOUBLES = """
window.__shaken = []; window.__woken = []; window.__ears = [];
navigator.vibrate = (pattern) => window.__shaken.push(pattern);
Object.defineProperty(navigator, "wakeLock", { configurable: true, value: {
  request: async (what) => { const lock = { what, released: false }; window.__woken.push(lock); return lock; } } });
window.SpeechRecognition = class {
  constructor() { window.__ears.push(this); this.started = 0; }
  start() { this.started += 1; }
  abort() { this.aborted = true; this.onend?.(); }
  hears(text) { this.onresult({ resultIndex: 0, results: [[{ transcript: text }]] }); }
};
"""
STORE = "(await import('/parts/bench/store.js'))"


def mixed(page: Page, ago: float, *, shot: int = 1) -> None:
    page.evaluate(
        f"async ([shot, ago]) => {STORE}.add('mixed', {{shot, at: {STORE}.now() - ago}})", [shot, ago]
    )


def kinds(server: BenchServer, casting: str) -> list[str]:
    return [e.kind for e in standing(events_of(server.ledger, casting))]


def test_it_keeps_awake_shakes_and_listens(browser: Browser, steady_server: BenchServer) -> None:
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id, script=DOUBLES)
    page.click("#start button")
    until(page, "window.__woken.length === 1 && window.__woken[0].what === 'screen'")
    expect(page.locator("#notes")).to_be_empty()
    page.evaluate(
        "() => { window.__woken[0].released = true; document.dispatchEvent(new Event('visibilitychange')) }"
    )
    until(page, "window.__woken.length === 2")  # after sleep the lock is asked for again

    page.click("#menu")
    page.get_by_label("Listen").check()
    until(page, "window.__ears.length === 1 && window.__ears[0].started === 1")
    page.click("dialog .quiet")
    page.evaluate("window.__ears[0].onend()")  # browsers stop listening by themselves
    until(page, "window.__ears[0].started === 2")
    mixed(page, 300.0)  # the cup is overdue
    expect(page.locator("#press")).to_have_attribute("data-kind", "gelled")
    assert page.evaluate("window.__shaken.length") == 0, (
        "what fell due before the page was there is not called"
    )
    page.evaluate("window.__ears[0].hears('mixing')")
    page.evaluate("Object.defineProperty(speechSynthesis, 'speaking', { configurable: true, value: true })")
    page.evaluate("window.__ears[0].hears('the cup has gelled')")
    assert "gelled" not in kinds(steady_server, casting.id), "its own voice is no press"
    page.evaluate("Object.defineProperty(speechSynthesis, 'speaking', { value: false })")
    page.evaluate("window.__ears[0].hears('it has gelled now')")
    expect(page.locator("#big")).to_have_text("KEEP TURNING")
    until(page, "window.__shaken.some((pattern) => pattern.join() === '40')")  # the press is felt
    said = page.evaluate("window.__said")
    assert any("The film is" in text and "behind it" in text for text in said)
    assert page.evaluate("window.__unseen") == []
    page.evaluate("window.__ears[0].hears('take back')")
    expect(page.locator("#said")).to_have_text("Taken back.")
    until(page, f"async () => {STORE}.state.net === 'there' && !{STORE}.state.pending.length")
    assert kinds(steady_server, casting.id) == ["mixed"]
    page.evaluate("window.__ears[0].onerror({ error: 'not-allowed' })")
    assert page.evaluate("window.__ears[0].aborted")
    context.close()


def test_a_browser_that_can_not_keep_awake_says_so(browser: Browser, steady_server: BenchServer) -> None:
    casting = begin(steady_server.ledger, short_plan())
    gone = "Object.defineProperty(navigator, 'wakeLock', { value: undefined });"
    context, page = open_bench(browser, steady_server, casting.id, script=gone)
    page.click("#start button")
    expect(page.locator("#notes")).to_contain_text("Set your screen to stay on")
    context.close()


def test_tones_have_their_notes(browser: Browser, steady_server: BenchServer) -> None:
    """Through an analyser node: silence, then the notes of a tone in order, and silence where switched off."""
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    heard = """async ([name, lasts]) => {
      const { analyser, tone } = await import('/parts/bench/sound.js');
      analyser.smoothingTimeConstant = 0;
      const bins = new Float32Array(analyser.frequencyBinCount);
      const note = () => {
        analyser.getFloatFrequencyData(bins);
        const loudest = bins.reduce((best, level, n) => (level > bins[best] ? n : best), 1);
        return bins[loudest] < -45 ? 0 : (loudest * analyser.context.sampleRate) / analyser.fftSize;
      };
      const notes = [note()];
      tone(name);
      for (const end = Date.now() + lasts; Date.now() < end; ) {
        await new Promise((go) => requestAnimationFrame(go));
        notes.push(note());
      }
      return notes;
    }"""
    for name, first, then, lasts in (
        ("go", 660, 990, 600),
        ("stop", 520, 390, 1200),
        ("frame_back", 587, 440, 400),
    ):
        before, *notes = page.evaluate(heard, [name, lasts])
        assert before == 0, name
        at = [next(n for n, got in enumerate(notes) if abs(got - wanted) < 15) for wanted in (first, then)]
        assert at[0] < at[1], (name, notes)
    page.evaluate("async () => (await import('/parts/bench/words.js')).set('sound', false)")
    assert max(page.evaluate(heard, ["go", 300])) == 0, "switched off is silent"
    context.close()


def test_photos_wait_in_the_browser_until_the_server_has_them(
    browser: Browser, bench_server: BenchServer
) -> None:
    casting = begin(bench_server.ledger, short_plan())
    context, page = open_bench(browser, bench_server, casting.id)
    page.click("#start button")
    for _ in range(3):
        page.click("#skip")
    bench_server.kill()
    picture = b"\xff\xd8\xff" + b"scale" * 100
    photo = {"name": "scale.jpg", "mimeType": "image/jpeg", "buffer": picture}
    page.set_input_files(".camera input >> nth=0", photo)
    expect(page.locator("#notes")).to_contain_text("photo waits")
    page.close()  # the phone's battery is dead
    bench_server.start()
    page = context.new_page()
    page.goto(bench_server.url(f"/bench/casting/{casting.id}"))
    expect(page.locator("#net")).to_have_text("●", timeout=WAIT)
    for _ in range(150):
        if kept := next((bench_server.shop / "photos").glob("*.jpg"), None):
            break
        page.wait_for_timeout(100)
    assert kept is not None
    assert kept.read_bytes() == picture
    (event,) = [e for e in events_of(bench_server.ledger, casting.id) if e.kind == "photo"]
    assert (event.id, event.item) == (kept.stem, "mass.0.a")
    context.close()


def test_a_wrong_ratio_is_asked_about(browser: Browser, steady_server: BenchServer) -> None:
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    for _ in range(3):
        page.click("#skip")
    page.fill("[name='mass.1.a']", "42.0")
    page.press("[name='mass.1.a']", "Enter")
    expect(page.locator("[name='mass.1.b']")).to_have_attribute("placeholder", "38.9")  # 37.0 g x 42.0 / 40.0
    page.fill("[name='mass.1.b']", "41.0")
    page.press("[name='mass.1.b']", "Enter")
    expect(page.locator("#doubt")).to_contain_text("5.5 % too much B")  # 41.0 / 38.85
    expect(page.locator("#doubt")).to_contain_text("Add 2.3 g of A")  # 41.0 x 40 / 37 - 42.0 = 2.32
    assert any("too much B" in text for text in page.evaluate("window.__said"))
    expect(page.locator("#skip")).to_be_hidden()
    page.keyboard.press("PageDown")
    expect(page.locator("#press")).to_have_text("A press does nothing now")
    assert page.evaluate("window.__unseen") == []
    page.get_by_role("button", name="Use it anyway").click()
    expect(page.locator("#doubt")).to_be_hidden()
    expect(page.locator("#press")).to_have_attribute("data-kind", "tick")
    context.close()


def test_an_entry_that_the_server_refuses_does_not_hold_up_the_others(
    browser: Browser, steady_server
) -> None:
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    page.evaluate(f"async () => {{ const s = {STORE}; s.add('mixed', {{shot: 1}}); s.add('poured', {{shot: 99}});"
                  " s.add('note', {text: 'kept'}); }")  # fmt: skip
    expect(page.locator("#notes")).to_contain_text("shot 99 is not in casting", timeout=WAIT)
    until(page, f"async () => {STORE}.state.net === 'there' && !{STORE}.state.pending.length")
    assert sorted(kinds(steady_server, casting.id)) == ["mixed", "note"]
    context.close()


def test_the_dry_run_is_timed_shown_and_timed_again(browser: Browser, steady_server: BenchServer) -> None:
    casting = begin(steady_server.ledger, short_plan())
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    page.evaluate(f"""async () => {{
      const s = {STORE}, now = s.now(), ago = {{start: 90, closed: 57, turned: 40, opened: 15}};
      for (const step of s.state.score.steps.slice(0, 4)) s.add('tick', {{item: step.key}});
      for (const [item, seconds] of Object.entries(ago)) s.add('dry', {{item, at: now - seconds}});
    }}""")
    until(page, f"async () => Math.abs({STORE}.state.score.plan.shots[1].close_for - 33) < 0.01")
    page.click("#menu")
    page.click("dialog >> text=Times so far")
    expect(page.locator("dialog")).to_contain_text("closed in 33 s, wetted in 17 s, open in 25 s")
    page.click("dialog >> text=Time the dry run again")
    expect(page.locator("#big")).to_have_text("CLOSE")
    expect(page.locator("#count")).to_have_text("0:01")
    page.keyboard.press("Backspace")
    expect(page.locator("#big")).not_to_have_text("CLOSE")
    context.close()


def test_a_long_push_is_counted_by_its_turns_and_has_a_beat(
    browser: Browser, steady_server: BenchServer
) -> None:
    """Frame: 8 turns forth in 24 s, a beat every 3 s; cradle: on and on, 12 turns a minute."""
    pushes = (
        Move(axis="frame", starts=0.0, lasts=24.0, turns=8.0),
        Move(axis="cradle", starts=0.0, lasts=300.0, turns=-60.0),
        Move(axis="frame", starts=24.0, lasts=276.0, turns=-92.0),
    )
    plan = short_plan()
    plan = replace(plan, shots=(plan.shots[0], *(replace(shot, moves=pushes) for shot in plan.shots[1:])))
    casting = begin(steady_server.ledger, plan)
    context, page = open_bench(browser, steady_server, casting.id)
    page.click("#start button")
    page.evaluate("""async () => {
      const context = AudioContext.prototype, real = context.createOscillator;
      window.__notes = [];
      context.createOscillator = function () {
        const one = real.call(this), start = one.start.bind(one);
        one.start = (at) => { window.__notes.push(Math.round(one.frequency.value)); start(at); };
        return one;
      };
    }""")
    mixed(page, 90.0 + 8.0)  # closed 90 s after mixing, 8 s into the turning
    frame = page.locator("#moves li", has_text="frame forth")
    expect(frame).to_contain_text("frame forth 8")
    expect(frame.locator("b")).to_have_text("5 ×")  # two and two thirds done
    expect(page.locator("#moves li", has_text="cradle back").locator("b")).to_have_text("12 a minute")
    until(page, "window.__notes.includes(330)")  # the third turn is done
    context.close()
