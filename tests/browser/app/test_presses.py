"""No press is lost: not before the page's socket stands, not while the page is being renewed, not in a gap."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Page, WebSocketRoute, expect

from evenwall.files.job_file import read_job_file

pytestmark = pytest.mark.browser
Window = Callable[..., Page]


@dataclass
class Gate:
    """Holds back what a page's socket says until it is opened."""

    open: bool = False
    held: list[tuple[WebSocketRoute, str | bytes]] = field(default_factory=list)

    def route(self, socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(lambda message: self.pass_on(socket, message))

    def pass_on(self, socket: WebSocketRoute, message: str | bytes) -> None:
        if self.open:
            socket.send(message)
        else:
            self.held.append((socket, message))

    def let_go(self) -> None:
        self.open = True
        for socket, message in self.held:
            socket.send(message)


def test_a_press_before_the_socket_stands_is_done_when_it_does(app, opened: Window, job) -> None:
    folder, address = job("early")
    page, gate = opened(app), Gate()
    page.route_web_socket("**/_nicegui_ws/**", gate.route)
    page.goto(app.url(f"{address}/coats"))
    button = page.get_by_role("button", name="Units: metric")
    expect(button).to_be_visible()
    path = folder / "job.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('"early"', '"renamed"'), encoding="utf-8")
    page.wait_for_timeout(1200)  # the app sees the change within a second and renews this page
    button.click()
    gate.let_go()
    expect(page.locator(".job-name")).to_have_text("renamed")
    expect(page.get_by_role("button", name="Units: US")).to_be_visible()
    assert read_job_file(folder).units == "us"


def test_a_press_in_a_gap_is_done_when_the_page_is_back(app, opened: Window, job) -> None:
    folder, address = job("gap")
    page, sockets = opened(app), []

    def route(socket: WebSocketRoute) -> None:
        sockets.append(socket)
        if len(sockets) == 1:
            socket.connect_to_server()
        elif len(sockets) < 4:
            socket.close()
        else:
            socket.connect_to_server()

    page.route_web_socket("**/_nicegui_ws/**", route)
    page.goto(app.url(f"{address}/coats"))
    button = page.get_by_role("button", name="Units: metric")
    page.wait_for_function("window.socket?.connected")
    sockets[0].close()
    page.wait_for_function("document.documentElement.dataset.connected === 'no'")
    button.click()
    expect(button).to_have_class("knob plain small kept-press")
    expect(page.get_by_role("button", name="Units: US")).to_be_visible(timeout=40_000)
    assert read_job_file(folder).units == "us"


def test_what_is_renewed_keeps_focus_and_opened_details(app, opened: Window, job) -> None:
    _, address = job("focus")
    page = opened(app, f"{address}/resin")
    page.get_by_label("Air", exact=True).fill("24")
    page.locator("summary", has_text="What the film's gel hangs on").click()
    undo = page.get_by_role("button", name="Undo")
    expect(undo).to_be_enabled()
    page.get_by_label("Air", exact=True).press("Tab")
    undo.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Air", exact=True)).to_have_value("22")
    expect(page.get_by_role("button", name="Redo")).to_be_enabled()
    assert page.evaluate("document.activeElement.dataset.step") == "undo"
    expect(page.get_by_role("region", name="What the film's gel hangs on")).to_be_visible()
