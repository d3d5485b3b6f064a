"""One window on one job: the page's frame, its questions and the answers that follow them."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

from nicegui import background_tasks, ui
from nicegui.events import GenericEventArguments
from pydantic import ValidationError

from evenwall.errors import EvenwallError
from evenwall.web import amounts, asks, urls
from evenwall.web.asks import Ask
from evenwall.web.desk import Desk, value_at
from evenwall.web.renew import Question, renew
from evenwall.web.tags import knob, link, tag, words

LATER: Final = 0.03  # what is shown late is shown so long after the rest [s]
ROOMY: Final = 18  # a choice with longer names takes a row of its own


class Window:
    """What one browser window shows of a job, kept in step with the job's folder."""

    def __init__(self, desk: Desk, view: str) -> None:
        """Must be made while a page is being built."""
        self.desk, self.view = desk, view
        self.client = ui.context.client
        self.fields: list[Question] = []
        self.areas: list[Callable[[], None]] = []
        self.spot: tuple[float, ...] | None = None  # normal where the piece was tapped last
        self.place: tuple[float, float, float] | None = None  # the place itself, in the mesh file's numbers
        self.works: list[Callable[[], None]] = []
        self.late: list[Callable[[], None]] = []  # shown after the rest, which is not to wait for them
        self._stale = self._worked = False
        desk.windows.append(self.changed)
        desk.watchers.append(self.worked)
        self.client.on_delete(self._close)
        self.client.on_connect(self._catch_up)

    def _close(self) -> None:
        for listeners, mine in ((self.desk.windows, self.changed), (self.desk.watchers, self.worked)):
            if mine in listeners:
                listeners.remove(mine)

    @property
    def system(self) -> str:
        """Units that the job wants: metric or us."""
        return self.desk.file.units

    def amount(self, value: float, unit: str, *, digits: int | None = None) -> str:
        """An SI value in the job's units."""
        return amounts.amount(value, unit, self.system, digits=digits)

    def say(self, sentence: str) -> str:
        """A sentence of the rooms in the job's units."""
        return amounts.sentence(sentence, self.system)

    def changed(self) -> None:
        """The job changed, here or in another window: show it soon; several changes at once are shown once."""
        if not self._stale:
            self._stale = True
            self._soon(self._catch_up)

    def worked(self) -> None:
        """Work under way got on: show it soon."""
        if not self._worked:
            self._worked = True
            self._soon(self._catch_up)

    def _soon(self, act: Callable[[], None]) -> None:
        if self.client.has_socket_connection:
            asyncio.get_running_loop().call_soon(act)

    def _catch_up(self) -> None:
        """Show what changed since it was shown last; a window that is not connected catches up when it is."""
        if not self.client.has_socket_connection or self.client.is_deleted:
            return
        stale, worked = self._stale, self._worked
        self._stale = self._worked = False
        with self.client:
            for build in list(self.areas) if stale else []:
                build()
            for build in list(self.works) if stale or worked else []:
                build()
            self.fields = [field for field in self.fields if not field.is_deleted]
            for field in self.fields if stale else []:
                self._show(field)
        if stale:
            asyncio.get_running_loop().call_later(LATER, self._catch_up_late)

    def _catch_up_late(self) -> None:
        if self.client.has_socket_connection and not self.client.is_deleted:
            with self.client:
                for build in list(self.late):
                    build()

    def ask(self, *questions: Ask, columns: bool = True) -> None:
        """Fields for these questions."""
        with tag("div", "fields" if columns and len(questions) > 1 else ""):
            for ask in questions:
                field = Question("shop-field")
                field.ask = ask
                kind = "text" if ask.kind in ("numbers", "points") else ask.kind
                field._props.update({"kind": kind, "label": ask.label, "data-key": ask.key})
                if ask.kind in ("numbers", "points") or any(len(name) > ROOMY for _, name in ask.options):
                    field.classes("wide")
                field.on("answer", self._answer, args=["detail"])
                self.fields.append(field)
                self._show(field)

    def area(
        self,
        build: Callable[[], Any],
        classes: str = "",
        *,
        work: bool = False,
        late: bool = False,
        **attributes: Any,
    ) -> ui.element:
        """A part of the page that is renewed whenever the job changes (`work`: also whenever work under way gets
        on; `late`: after the rest); a refusal is shown in its place.

        `build` may be a coroutine function for what takes longer than a breath: what was there before stays, marked
        as busy, until it is done.
        """
        box, again = part(build, classes, say=self.say, **attributes)
        (self.works if work else self.late if late else self.areas).append(again)
        again()
        return box

    def edit(self, answers: dict[str, Any]) -> str:
        """Change the job; the refusal in one sentence, empty where it was taken."""
        try:
            self.desk.edit(answers)
        except ValidationError as error:
            fault = error.errors()[0]
            return f"{'.'.join(str(part) for part in fault['loc'])}: {fault['msg']}"
        except EvenwallError as error:
            return self.say(str(error))
        return ""

    def _answer(self, event: GenericEventArguments) -> None:
        field: Any = event.sender
        ask: Ask = field.ask
        text = str(event.args["detail"] if isinstance(event.args, dict) else event.args)
        if len(text) > 2000:
            return
        problem = ""
        try:
            self.desk.edit({ask.key: asks.meant(ask, text, self.system)})
        except ValidationError as error:
            problem = asks.refusal(ask, error, self.system)
        except EvenwallError as error:
            problem = self.say(str(error))
        field._props["error"] = problem
        if not problem:
            self._show(field)
        field.update()

    def _show(self, field: Question) -> None:
        ask: Ask = field.ask
        value, said = value_at(self.desk.file, ask.key)
        source, origin = asks.origin(ask, said=said, value=value)
        unit = amounts.unit_name(amounts.shown_unit(amounts.unit_of(ask.key), self.system))
        if unit == "per kg":
            unit = f"{self.desk.file.costs.currency}/kg"
        show = {
            "value": asks.shown(ask, value, self.system),
            "unit": unit,
            "note": ask.note,
            "source": source,
            "origin": origin,
            "error": "",
        }
        if ask.kind == "choice":
            show["options"] = json.dumps(ask.options)
        if any(field._props.get(name) != text for name, text in show.items()):
            field._props.update(show)
            field.update()


def part(
    build: Callable[[], Any], classes: str = "", *, say: Callable[[str], str] = str, **attributes: Any
) -> tuple[ui.element, Callable[[], None]]:
    """A part of a page, and what builds it (again); see Window.area."""
    box = tag("div", classes, **attributes)
    turn, lock = 0, asyncio.Lock()

    def again() -> None:
        nonlocal turn
        if box.is_deleted:
            return
        turn += 1
        mine = turn
        with box:
            stage = tag("div", hidden="hidden")
        result = _attempt(build, stage, say)
        if result is None:
            renew(box, stage)
        else:
            background_tasks.create(_later(result, box, stage, lambda: mine == turn, lock, say))

    return box, again


def _attempt(build: Callable[[], Any], stage: ui.element, say: Callable[[str], str]) -> Any:
    """Build onto the stage; what is still to be awaited, or None."""
    with stage:
        try:
            result = build()
        except EvenwallError as error:
            _refused(stage, say(str(error)))
            return None
    return result if hasattr(result, "__await__") else None


async def _later(
    result: Any,
    box: ui.element,
    stage: ui.element,
    wanted: Callable[[], bool],
    lock: asyncio.Lock,
    say: Callable[[str], str],
) -> None:
    """Show on `box` what a slow part puts onto the stage; one at a time, and none that a later turn overtook."""
    box._props["aria-busy"] = "true"
    box.update()
    async with lock:
        if not wanted():
            result.close()
        elif not stage.is_deleted:
            with stage:
                try:
                    await result
                except EvenwallError as error:
                    _refused(stage, say(str(error)))
    if stage.is_deleted:
        return
    if wanted():
        renew(box, stage)
        box._props.pop("aria-busy", None)
        box.update()
    else:
        stage.delete()


def _refused(stage: ui.element, sentence: str) -> None:
    stage.clear()
    words("p", sentence, "refusal", role="alert")


def wants_piece(window: Window, sentence: str) -> None:
    """Why there is nothing to show without a piece, and the way to give one."""
    words("p", sentence)
    link("To Piece", urls.view(window.desk.key, "piece"), "knob")


def head(title: str) -> None:
    """What every page needs in its head."""
    ui.page_title(f"{title} · evenwall")
    ui.add_head_html(f'<link rel="stylesheet" href="{urls.part("look.css")}">')
    ui.add_head_html(f'<script type="module" src="{urls.part("page.js")}"></script>')


@contextmanager
def frame(window: Window, title: str, lead: str, summaries: Callable[[], dict[str, str]]) -> Iterator[None]:
    """The page round a view: the job ticket with the eight views, and the view's own work."""
    desk = window.desk
    head(f"{title}: {desk.file.name}")
    link("To the work", "#work", "skip")
    with tag("div", "page"):
        with tag("div", "ticket", role="navigation", aria_label="The job"):
            link("evenwall: all jobs", urls.START, "home")
            window.area(lambda: words("p", desk.file.name, "job-name", dir="auto"))
            window.area(lambda: _views(window, summaries()), late=True)
            with tag("div", "bottom"):
                window.area(lambda: _steps(window))
        with tag("div", "work", id="work", tabindex="-1", role="region", aria_label=title):
            words("h1", title)
            words("p", lead, "lead")
            window.area(lambda: words("p", desk.fault, "refusal", role="alert") if desk.fault else None)
            yield


def _views(window: Window, summaries: dict[str, str]) -> None:
    with tag("ol"):
        for name, title in urls.VIEWS.items():
            with tag("li"):
                here = {"aria_current": "page"} if name == window.view else {}
                with tag("a", href=urls.view(window.desk.key, name), **here):
                    words("b", title)
                    words("small", summaries.get(name, ""))


def _steps(window: Window) -> None:
    desk = window.desk
    with tag("div", "row"):
        for name, step, there in (("Undo", desk.undo, desk.past), ("Redo", desk.redo, desk.future)):
            button = knob(name, step, "plain small", data_step=name.lower())
            if not there:
                button._props["aria-disabled"] = "true"
    other = "us" if window.system == "metric" else "metric"
    shown = {"metric": "metric", "us": "US"}
    with tag("div", "row"):
        knob(f"Units: {shown[window.system]}", lambda: window.edit({"units": other}), "plain small")
        words("button", "Light: system", "knob plain small", type="button", data_light_button="yes")
