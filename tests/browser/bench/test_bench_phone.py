"""The phone's door: a key that works once, the bench of one casting and nothing else, known again after a restart."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from bench_pages import short_plan
from bench_server import slower_when_colder
from playwright.sync_api import Browser, expect

from evenwall.bench.ledger import Casting, begin, open_ledger
from evenwall.errors import InputError
from evenwall.web.bench import Bench, page_of
from evenwall.web.bench_phone import Door, Doorway, close_door, open_door, reopen_door, stop

HERE = "127.0.0.1"  # stands in for the network address that a user would choose


@pytest.fixture
def doorway(tmp_path: Path) -> Iterator[Doorway]:
    doorway = Doorway(bench=Bench(ledger=open_ledger(tmp_path, clock=time.time), replan=slower_when_colder))
    yield doorway
    stop(doorway)


@pytest.fixture
def casting(doorway: Doorway) -> Casting:
    return begin(doorway.bench.ledger, short_plan())


def enter(door: Door) -> httpx.Client:
    """A phone that scanned the code and tapped."""
    address, key = door.url.split("#")
    base = address.removesuffix("/bench/enter")
    for _ in range(100):
        try:
            httpx.get(address)
            break
        except httpx.ConnectError:
            time.sleep(0.05)
    answer = httpx.post(address, content=key, headers={"origin": base})
    assert answer.status_code == 200, answer.text
    return httpx.Client(base_url=base, headers={"origin": base}, cookies=answer.cookies)


def test_a_phone_does_the_bench_and_nothing_else(doorway, casting) -> None:
    other = begin(doorway.bench.ledger, short_plan())
    with enter(open_door(doorway, casting.id, HERE, allowed=[HERE])) as phone:
        assert phone.get(page_of(casting.id)).status_code == 200
        assert phone.get(f"/bench/api/castings/{casting.id}").json()["desk"] is False
        event = {"id": "p1", "kind": "mixed", "at": time.time(), "shot": 0}
        told = phone.post(f"/bench/api/castings/{casting.id}/events", json=[event])
        assert told.json()["acknowledged"] == ["p1"]
        for path in ("/", "/bench", "/job/x/piece", "/bench/api/phone", page_of(other.id), "/parts/view.js"):
            assert phone.get(path).status_code == 403, path
        assert phone.get(f"/bench/api/castings/{other.id}").status_code == 403
        assert phone.post("/bench/api/phone/open", json={}).status_code == 403
        assert phone.get(f"/parts/bench/../../{casting.id}").status_code == 403


@pytest.mark.browser
def test_a_phone_enters_by_its_code_with_one_tap(browser: Browser, doorway, casting) -> None:
    door = open_door(doorway, casting.id, HERE, allowed=[HERE])
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.goto(door.url)
    page.get_by_role("button", name="Open the bench on this phone").tap()
    page.wait_for_url(f"**{page_of(casting.id)}")
    expect(page.locator("#start h1")).to_have_text("Start the bench")
    page.goto(door.url)  # the code is used up
    page.get_by_role("button", name="Open the bench on this phone").tap()
    expect(page.get_by_role("alert").first).to_contain_text("has been used")
    context.close()


def test_the_key_works_once(doorway, casting) -> None:
    door = open_door(doorway, casting.id, HERE, allowed=[HERE])
    with enter(door) as phone, httpx.Client(base_url=phone.base_url, headers=phone.headers) as second:
        second.cookies.clear()
        assert second.post("/bench/enter", content=door.url.split("#")[1]).status_code == 403
        assert second.get(page_of(casting.id)).status_code == 403
        assert second.post("/bench/enter", content="guess").status_code == 403


def test_strangers_stay_outside(doorway, casting) -> None:
    with enter(open_door(doorway, casting.id, HERE, allowed=[HERE])) as phone:
        path = f"/bench/api/castings/{casting.id}"
        assert phone.get(path, headers={"host": "evil.example"}).status_code == 403
        assert (
            phone.post(f"{path}/events", json=[], headers={"origin": "http://evil.example"}).status_code
            == 403
        )
        assert phone.delete(path).status_code == 403
        del phone.headers["origin"]
        assert phone.post(f"{path}/events", json=[]).status_code == 403


def test_a_restarted_server_knows_its_phone(doorway, casting) -> None:
    with enter(open_door(doorway, casting.id, HERE, allowed=[HERE])) as phone:
        stop(doorway)
        again = Doorway(bench=doorway.bench)
        assert reopen_door(again)
        try:
            for _ in range(100):
                try:
                    answer = phone.get(page_of(casting.id))
                    break
                except httpx.ConnectError:
                    time.sleep(0.05)
            assert answer.status_code == 200
            close_door(again)
            assert not reopen_door(again), "a door that was shut stays shut"
        finally:
            stop(again)


def test_keys_are_not_in_the_ledger_in_the_clear(doorway, casting) -> None:
    door = open_door(doorway, casting.id, HERE, allowed=[HERE])
    key = door.url.split("#")[1].encode()
    for file in doorway.bench.ledger.path.parent.glob("ledger.sqlite*"):
        assert key not in file.read_bytes()


def test_only_addresses_of_this_computer(doorway, casting) -> None:
    with pytest.raises(InputError, match=r"choose one of 127\.0\.0\.1"):
        open_door(doorway, casting.id, "192.0.2.7", allowed=[HERE])


def test_photos_are_kept_beside_the_ledger(doorway, casting) -> None:
    with enter(open_door(doorway, casting.id, HERE, allowed=[HERE])) as phone:
        path = f"/bench/api/castings/{casting.id}"
        picture = b"\xff\xd8\xff" + bytes(100)
        assert phone.post(f"{path}/photos/p9", content=picture).status_code == 404
        event = {"id": "p9", "kind": "photo", "at": 1.0, "item": "mass.0.a"}
        phone.post(f"{path}/events", json=[event])
        assert phone.post(f"{path}/photos/p9", content=b"<svg/>").status_code == 415
        assert phone.post(f"{path}/photos/p9", content=picture).json() == {"kept": "p9"}
    assert (doorway.bench.ledger.path.parent / "photos" / "p9.jpg").read_bytes() == picture
