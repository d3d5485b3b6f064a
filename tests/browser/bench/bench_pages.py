"""A bench server to kill and pages to press on, for the browser tests."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page

from evenwall.bench import ledger as book
from evenwall.bench.casting import BenchPlan, Move, ShotPlan

SERVER = Path(__file__).with_name("bench_server.py")
FAST = r"""(() => {
  const [origin, rate] = [%r, %r];
  window.__leapt = Number(sessionStorage.getItem("leapt") ?? %r);
  const [ask, pause] = [window.fetch.bind(window), window.setTimeout.bind(window)];
  let [held, asking] = [false, 0];
  window.fetch = async (...what) => {
    while (held) await new Promise((go) => pause(go, 2));
    asking += 1;
    try {
      const answer = await ask(...what);
      const body = await answer.clone().arrayBuffer();  // an answer that is still being read is being asked, too
      return new Response([204, 205, 304].includes(answer.status) ? null : body, answer);
    } finally {
      pause(() => { asking -= 1; }, 5);
    }
  };
  window.__hold = async () => {  // nothing may measure the clocks while one has leapt and the other not yet
    held = true;
    do await new Promise((go) => pause(go, 10)); while (asking > 0);
  };
  window.__leap = (seconds) => {
    sessionStorage.setItem("leapt", window.__leapt += seconds);
    held = false;
  };
  const [date, counter] = [Date.now.bind(Date), performance.now.bind(performance)];
  const began = counter();
  Date.now = () => (origin + (date() / 1000 - origin) * rate + window.__leapt + (window.__ahead ?? %r)) * 1000;
  performance.now = () => began + (counter() - began) * rate;  // a leap is a slip of the clock, measured anew
  for (const name of ["setTimeout", "setInterval"]) {
    const real = window[name].bind(window);
    window[name] = (act, wait, ...more) => real(act, (wait ?? 0) / Math.min(rate, 4), ...more);
  }
  window.__said = [];
  window.__unseen = [];  // what was said and did not stand on the screen by then
  const flat = (text) => text.replace(/\s+/g, " ").replace(/(\d+ (h|min|s)\b ?)+/g, "# ").replace(/\d+/g, "#")
    .replace(/ +/g, " ").replaceAll("# .", "#.").replaceAll("# :", "#:");
  speechSynthesis.speak = (saying) => {
    window.__said.push(saying.text);
    queueMicrotask(() => {
      const shown = flat(document.body.innerText);
      if (flat(saying.text).split(", ").every((part) => shown.includes(part))) return;
      window.__unseen.push(`${saying.text} | ${shown}`);
    });
  };
})()"""


NOW = """async () => {
  const [store, run] = await Promise.all([import('/parts/bench/store.js'), import('/parts/bench/run.js')]);
  const now = run.moment(store.state.score, store.events(), store.now());
  const known = Object.fromEntries(now.instants.map((i) => [i.name, i.at]));
  const cues = now.shot === null ? [] : store.state.score.cues[now.shot];
  const due = cues.map((cue) => known[cue.after] + cue.wait - store.now()).filter((wait) => wait > 0);
  return {press: document.querySelector('#press').dataset.kind, stage: now.stage,
          big: document.querySelector('#big').textContent.trim(),
          next: due.length ? Math.min(...due) : 0, cup: (known.expected ?? 0) - store.now()};
}"""
FAULTS: list[str] = []  # of the pages of this test


@dataclass
class BenchServer:
    """A bench server in a process of its own that can be killed and started again, on a clock `rate` times as fast."""

    shop: Path
    rate: float
    origin: float = field(default_factory=time.time)
    port: int = 0
    leapt: float = 0.0
    process: subprocess.Popen[bytes] | None = None

    @property
    def clock(self) -> float:
        return self.origin + (time.time() - self.origin) * self.rate + self.leapt

    def leap(self, page: Page, seconds: float) -> None:
        """Let `seconds` pass at once, for the server (alive or not), the page and this test."""
        page.evaluate("window.__hold()")
        self.leapt += seconds
        if self.process and self.process.poll() is None:
            asked = urllib.request.Request(self.url(f"/test/leap/{seconds}"), method="POST")
            urllib.request.urlopen(asked, timeout=5).close()
        page.evaluate("(seconds) => window.__leap(seconds)", seconds)

    @property
    def ledger(self) -> book.Ledger:
        return book.open_ledger(self.shop, clock=lambda: self.clock)

    def start(self) -> None:
        if not self.port:
            with socket.socket() as free:
                free.bind(("127.0.0.1", 0))
                self.port = free.getsockname()[1]
        words = [
            sys.executable,
            str(SERVER),
            str(self.shop),
            str(self.port),
            repr(self.origin),
            repr(self.rate),
            repr(self.leapt),
        ]
        kept = {
            k: v for k, v in os.environ.items() if k != "PYTEST_CURRENT_TEST" and not k.startswith("NICEGUI")
        }
        self.process = subprocess.Popen(words, env=kept)
        for _ in range(200):
            try:
                urllib.request.urlopen(self.url("/bench/api/words/en"), timeout=1).close()
                return
            except OSError:
                time.sleep(0.05)
        raise AssertionError("the bench server does not answer")

    def kill(self) -> None:
        assert self.process
        self.process.kill()
        self.process.wait()

    def url(self, path: str) -> str:
        return f"http://127.0.0.1:{self.port}{path}"


def open_bench(
    browser: Browser,
    server: BenchServer,
    casting: str,
    *,
    ahead: float = 0.0,
    script: str = "",
    **options: object,
) -> tuple[BrowserContext, Page]:
    """The bench page of a casting on a phone whose clock is `ahead` of the server's [s]; `script` runs before it."""
    settings: dict[str, object] = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
    context = browser.new_context(**(settings | options))  # type: ignore[arg-type]
    page = context.new_page()
    page.on("pageerror", lambda fault: FAULTS.append(str(fault)))
    page.add_init_script(FAST % (server.origin, server.rate, server.leapt, ahead) + ";" + script)
    page.goto(server.url(f"/bench/casting/{casting}"))
    page.wait_for_function("document.querySelector('#start h1').textContent")
    return context, page


def until(page: Page, question: str, *, seconds: float = 15.0) -> None:
    """Ask the page until it answers yes."""
    end = time.monotonic() + seconds
    while not page.evaluate(question):
        assert time.monotonic() < end, f"never came true: {question}"
        page.wait_for_timeout(15)


def short_plan(*, coats: int = 2, moves: bool = True) -> BenchPlan:
    """A brush coat and coats with the times of the trade (common practice, no source)."""
    pattern = (
        Move(axis="frame", starts=0.0, lasts=8.0, turns=1.25),
        Move(axis="frame", starts=8.0, lasts=6.0, turns=-1.0),
        Move(axis="cradle", starts=0.0, lasts=5.0, turns=0.5),
        Move(axis="cradle", starts=5.0, lasts=9.0, turns=-0.75),
    )
    times = {
        "mass_a": 0.040,
        "mass_b": 0.036,
        "stir_for": 45.0,
        "pour_at": 50.0,
        "pour_last": 140.0,
        "pour_for": 15.0,
        "close_for": 25.0,
        "wet_for": 20.0,
        "gel_cup": 240.0,
        "gel_film": 420.0,
        "gel_film_late": 480.0,
        "turn_until": 450.0,
        "next_from": 700.0,
        "next_to": 1500.0,
    }
    brush = ShotPlan(name="brush coat", kind="brush", pour_within=150.0, closed_within=180.0, **times)
    coat = [
        ShotPlan(
            name=f"coat {n + 1}",
            kind="coat",
            mass_pigment=0.001,
            pour_within=90.0,
            closed_within=130.0,
            moves=pattern if moves else (),
            **times,
        )
        for n in range(coats)
    ]
    return BenchPlan(
        name="ammonite 1 of 12", shots=(brush, *coat), open_after=900.0, room=295.15, mold=295.15
    )
