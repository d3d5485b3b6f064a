"""A page of another origin, open in the same browser, reads and changes nothing."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from playwright.sync_api import Page, expect

from evenwall.files.job_file import read_job_file

pytestmark = pytest.mark.browser
Window = Callable[..., Page]
TRIES = """async ([host, address]) => {
  const got = {};
  const get = async (name, options) => {
    try {
      const answer = await fetch(`http://${host}${address}`, {credentials: "include", ...options});
      got[name] = answer.type + (await answer.text());
    } catch (error) { got[name] = "refused"; }
  };
  await get("read", {});
  await get("blind", {mode: "no-cors"});
  await get("post", {method: "POST", mode: "no-cors", body: "solid x"});
  got.socket = await new Promise((go) => {
    const channel = new WebSocket(`ws://${host}/_nicegui_ws/socket.io/?EIO=4&transport=websocket`);
    channel.onopen = () => go("open");
    channel.onerror = () => go("refused");
  });
  got.picture = await new Promise((go) => {
    const picture = new Image();
    picture.onload = () => go("shown");
    picture.onerror = () => go("refused");
    picture.src = `http://${host}/parts/mark.svg`;
  });
  got.frame = await new Promise((go) => {
    const frame = document.createElement("iframe");
    frame.src = `http://${host}${address}`;
    frame.onload = () => {
      try { go(frame.contentDocument ? "readable" : "closed"); } catch { go("closed"); }
    };
    document.body.append(frame);
  });
  return got;
}"""


@pytest.fixture
def stranger() -> Iterator[str]:
    """A web server of somebody else on this machine."""

    class Page(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("content-type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>stranger</title><link rel=icon href=data:,><body>")

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Page)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    server.server_close()


def test_another_origin_reads_and_changes_nothing(app, opened: Window, job, stranger: str) -> None:
    folder, address = job("mine")
    page = opened(app, f"{address}/coats")  # the cookie is there
    before = (folder / "job.toml").read_bytes()
    page.goto(stranger)
    got = page.evaluate(TRIES, [f"127.0.0.1:{app.port}", f"{address}/mesh?name=x.stl"])
    assert got["read"] == "refused"
    assert got["blind"] in ("refused", "opaque")
    assert got["socket"] == "refused"
    assert got["picture"] == "refused"
    assert got["frame"] == "closed"
    assert (folder / "job.toml").read_bytes() == before
    assert not list(folder.glob("piece-*"))
    assert read_job_file(folder).piece.mesh == "ball.obj"


def test_a_window_without_the_token_is_told_what_to_do(app, opened: Window, browser) -> None:
    context = browser.new_context()
    page = context.new_page()
    answer = page.goto(app.url("/"))
    assert answer is not None
    assert answer.status == 403
    expect(page.locator("h1")).to_contain_text("earlier start")
    context.close()


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1:1", "localhost.evil.example:{port}"])
def test_rebound_names_are_refused_with_the_right_cookie(app, opened: Window, host: str) -> None:
    page = opened(app)
    cookie = "; ".join(f"{c['name']}={c['value']}" for c in page.context.cookies())
    for path in ("/", "/parts/look.css", "/_nicegui_ws/socket.io/?EIO=4&transport=polling"):
        link = http.client.HTTPConnection("127.0.0.1", app.port, timeout=10)
        link.request("GET", path, headers={"Host": host.format(port=app.port), "Cookie": cookie})
        assert link.getresponse().status == 403
        link.close()


PATHS = (
    "/data/film/..%2f..%2fjob",
    "/data/film/run-1%00",
    "/data/film/%2e%2e/less/run-1",
    "/../../recent.json",
    "/worksheet.pdf/..%2f..%2fjob.toml",
)


@pytest.mark.parametrize("path", PATHS)
def test_no_text_of_a_client_becomes_a_path(app, opened: Window, job, path: str) -> None:
    name = f"paths{PATHS.index(path)}"
    _, address = job(name)
    page = opened(app)
    cookie = "; ".join(f"{c['name']}={c['value']}" for c in page.context.cookies())
    link = http.client.HTTPConnection("127.0.0.1", app.port, timeout=10)
    link.request("GET", address + path, headers={"Host": f"127.0.0.1:{app.port}", "Cookie": cookie})
    answer = link.getresponse()
    text = answer.read()
    link.close()
    assert answer.status in (400, 404)
    assert name.encode() not in text.replace(path.encode(), b"")
