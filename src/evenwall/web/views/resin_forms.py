"""The parts of the resin's forms: fields that are kept or sent, buttons, and where a refusal stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui.events import GenericEventArguments

from evenwall.errors import EvenwallError
from evenwall.files.resin_job import Asked, done
from evenwall.web.renew import Question
from evenwall.web.tags import knob, words
from evenwall.web.window import Window


class SheetForm:
    """The form of one window; it keeps where the numbers being typed come from."""

    def __init__(self, window: Window) -> None:
        """Nothing is shown yet."""
        self.window = window
        self.source, self.pedigree = "", "data sheet"
        self.new: dict[str, str] = {}
        self.cup: dict[str, str] = {}
        self.refused: dict[str, str] = {}  # by the button that was pressed

    def ask(self, **what: Any) -> list[str]:
        """Do it to the resin's file, and have every window show it; EvenwallError where it can't be."""
        lines = done(self.window.desk.folder, Asked(**what))
        self.window.desk.look()
        self.window.desk.tell()
        return lines


def own_field(
    label: str,
    value: str,
    keep: Callable[[str], None],
    *,
    unit: str = "",
    note: str = "",
    options: tuple[str, ...] = (),
) -> None:
    """A field that is only kept till its form is sent."""
    props = {"value": value, "unit": unit, "note": note}
    if options:
        props["options"] = "[" + ", ".join(f'["{one}", "{one}"]' for one in options) + "]"
    field(f"form.{label}", label, "choice" if options else "text", props, keep)


def field(key: str, label: str, kind: str, props: dict[str, str], put: Callable[[str], None]) -> None:
    """A field whose answers go to `put`; what that refuses stands under it."""
    box = Question("shop-field")
    box._props.update({"kind": kind, "label": label, "data-key": key, "error": "", **props})

    def answer(event: GenericEventArguments) -> None:
        asked: Any = event.sender
        text = str(event.args["detail"] if isinstance(event.args, dict) else event.args)[:2000]
        try:
            put(text)
            asked._props["error"] = ""
        except EvenwallError as error:
            asked._props["error"] = str(error)
        asked.update()

    box.on("answer", answer, args=["detail"])


def press(form: SheetForm, name: str, act: Callable[[], Any], classes: str = "small") -> None:
    """A button, and its last refusal under it."""

    def pressed() -> None:
        form.refused = {}
        try:
            act()
        except EvenwallError as error:
            form.refused = {name: str(error)}
            form.window.changed()

    knob(name, pressed, classes)
    if name in form.refused:
        words("p", form.refused[name], "refusal", role="alert")


def keeper(kept: dict[str, str], key: str) -> Callable[[str], None]:
    """Keeps a field's text under `key`."""
    return lambda text: kept.update({key: text})


def typed_into(kept: dict[str, str], key: str) -> Callable[[GenericEventArguments], None]:
    """The same for an element of the browser's own."""
    return lambda event: kept.update({key: str(event.args)})


def asker(form: SheetForm, **what: Any) -> Callable[[], Any]:
    """Does `what` to the resin's file."""
    return lambda: form.ask(**what)
