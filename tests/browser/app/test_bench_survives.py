"""A casting in the real app, killed twice and cut off once, on a window that the restarted app has never seen."""

from __future__ import annotations

import json
import stat
import sys
import time
from dataclasses import asdict
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from evenwall.bench import ledger as book
from evenwall.bench.facts import facts_of
from evenwall.bench.run import moment, score_of
from evenwall.web.bench import plan_again
from evenwall.web.bench_key import NAME, is_bench, kept_key
from evenwall.web.desk import key_of

MOMENT = """async (at) => {
  const [store, run] = await Promise.all([import('/parts/bench/store.js'), import('/parts/bench/run.js')]);
  return run.moment(store.state.score, store.events(), at);
}"""


@pytest.mark.browser
def test_a_casting_goes_on_through_two_kills_and_a_cut_network(own_app, opened, ball_job) -> None:
    page = opened(own_app, f"/job/{key_of(ball_job)}/piece")
    expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
    page.get_by_role("navigation", name="The job").get_by_role("link", name="Bench").click()
    expect(page.get_by_role("heading", level=1, name="Bench")).to_be_visible()
    page.wait_for_function("window.did_handshake === true")
    page.get_by_role("button", name="Begin this casting").click()
    page.wait_for_url("**/bench/casting/*")
    casting = page.url.rsplit("/", 1)[1]
    page.click("#start button")
    while page.locator("#press").get_attribute("data-kind") != "mixed":
        page.click("#skip")
    page.keyboard.press("PageDown")  # a pedal: mixing started
    expect(page.locator("#press")).to_have_attribute("data-kind", "")
    expect(page.locator("#net")).to_have_text("●")

    own_app.stop()
    page.click("#menu")
    page.click("dialog >> text=Times so far")
    for _ in range(4):  # in truth four minutes earlier
        page.locator(".times li", has_text="mixing started").locator("text=−1 min").click()
    page.click("dialog .quiet")
    expect(page.locator("#net")).to_contain_text("wait here")
    own_app.start(ball_job)
    expect(page.locator("#net")).to_have_text("●")

    page.context.set_offline(True)
    own_app.stop()
    expect(page.locator("#press")).to_have_attribute("data-kind", "gelled")
    page.wait_for_timeout(1300)  # so that it is not taken for the same press
    page.keyboard.press("b")
    expect(page.locator("#press")).to_have_attribute("data-kind", "")
    own_app.start(ball_job)
    page.context.set_offline(False)
    expect(page.locator("#net")).to_have_text("●")

    opened_ledger = book.open_ledger(own_app.home, clock=time.time)
    begun, events = book.casting_of(opened_ledger, casting), book.events_of(opened_ledger, casting)
    assert [e.kind for e in events if e.kind in ("mixed", "mend", "gelled")] == [
        "mixed",
        *["mend"] * 4,
        "gelled",
    ]
    plan = plan_again(begun, facts_of(events, shots=len(begun.plan.shots)))
    at = events[-1].at + 1.0
    wanted = json.loads(json.dumps(asdict(moment(score_of(plan), events, at=at))))
    assert same(page.evaluate(MOMENT, at), wanted)
    page.evaluate("localStorage.clear()")
    page.reload()  # by the bench's own key
    expect(page.locator("#start h1")).not_to_be_empty()
    assert same(page.evaluate(MOMENT, at), wanted), "the ledger alone holds the run"
    assert refused(page, own_app.url(f"/job/{key_of(ball_job)}/bench")), "and opens nothing else"
    assert refused(page, own_app.url("/bench/api/phone"))


def refused(page: Page, url: str) -> bool:
    answer = page.goto(url)
    return answer is not None and answer.status == 403


def same(one: dict, other: dict) -> bool:
    """Equal but for the last digits of numbers."""
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, list):
        return len(one) == len(other) and all(map(same, one, other))
    return one == pytest.approx(other, abs=1e-5) if isinstance(one, int | float) else one == other


@pytest.fixture
def ball_job(own_app, ball_obj: str) -> Path:
    folder: Path = own_app.home / "ball"
    folder.mkdir()
    (folder / "ball.obj").write_text(ball_obj, encoding="utf-8")
    lines = ('name = "ball"', "[piece]", 'mesh = "ball.obj"', 'unit = "mm"', "[wall]", "target_wall_mm = 1.0")
    (folder / "job.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (own_app.home / "recent.json").write_text(json.dumps([str(folder)]), encoding="utf-8")
    return folder


def test_the_bench_key_outlives_a_start_and_is_its_owners_alone(tmp_path: Path) -> None:
    key = kept_key(tmp_path / "state")
    file = tmp_path / "state" / NAME
    assert kept_key(tmp_path / "state") == key
    assert len(key) >= 32
    if sys.platform != "win32":
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        file.chmod(0o644)
        assert kept_key(tmp_path / "state") != key, "a key that others could read is no key"
    file.write_text(key[:5])  # cut off by a full disk
    assert len(kept_key(tmp_path / "state")) >= 32


@pytest.mark.parametrize(
    "path", ["/", "/job/x/bench", "/bench/api/phone", "/bench/api/phone/open", "/parts/bench/../view.js"]
)
def test_the_bench_key_opens_the_bench_only(path: str) -> None:
    assert not is_bench(path)
    for own in ("/bench", "/bench/casting/x", "/bench/api/castings/x/events", "/parts/bench/page.js"):
        assert is_bench(own)
