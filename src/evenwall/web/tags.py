"""Plain HTML elements for the pages; NiceGUI's own widgets are hardly used, so the look is ours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement


class Words(TextElement):
    """An HTML element with text in it."""

    def __init__(self, kind: str, text: str) -> None:
        """`kind` is the tag (p, h2, b ...); the text is shown as it is, never as HTML."""
        super().__init__(tag=kind, text=text)


def tag(kind: str, classes: str = "", /, **attributes: Any) -> ui.element:
    """An element to put others into; `aria_label` becomes aria-label, `for_` becomes for."""
    return _dress(ui.element(kind), classes, attributes)


def words(kind: str, text: str, classes: str = "", /, **attributes: Any) -> ui.element:
    """An element with text."""
    return _dress(Words(kind, text), classes, attributes)


def link(text: str, to: str, classes: str = "", **attributes: Any) -> ui.element:
    """A link to another page of the app."""
    return words("a", text, classes, href=to, **attributes)


def knob(text: str, press: Callable[..., Any], classes: str = "", **attributes: Any) -> ui.element:
    """A button."""
    return words("button", text, f"knob {classes}", type="button", **attributes).on("click", press, args=[])


def sheet(title: str) -> ui.element:
    """A part of the work under its own title, to put the rest into."""
    box = tag("section", "sheet")
    with box:
        words("h2", title)
    return box


def scroll(label: str) -> ui.element:
    """What may be wider than the page, reached by keys too."""
    return tag("div", "scroll", tabindex="0", role="region", aria_label=label)


def chart(options: dict[str, Any], label: str, classes: str = "chart") -> None:
    """A chart as ECharts draws it, and what it shows in a sentence."""
    drawn = ui.echart(options).classes(classes)
    drawn._props.update({"role": "img", "aria-label": label})


def drawing(svg: str, classes: str = "") -> ui.element:
    """A drawing made by our own code (never from what a client sent)."""
    return ui.html(svg, sanitize=False).classes(classes)


def figure(name: str, value: str, note: str = "") -> None:
    """A figure with its name; to be put into a `dl` of class figures."""
    with tag("div", "figure"):
        words("dt", name)
        with words("dd", value):
            if note:
                words("small", note)


def table(heads: list[str], rows: list[list[str]], *, numbers: bool = True, caption: str = "") -> None:
    """A table; all columns but the first hold numbers, unless `numbers` is false."""
    with (
        scroll(caption or heads[0]),
        tag("table", "long"),
    ):
        if caption:
            words("caption", caption, "unseen")
        with tag("thead"), tag("tr"):
            for k, head in enumerate(heads):
                words("th", head, "n" if numbers and k else "", scope="col")
        with tag("tbody"):
            for row in rows:
                with tag("tr"):
                    for k, cell in enumerate(row):
                        words("td", cell, "n" if numbers and k else "")


def bullets(lines: list[str] | tuple[str, ...]) -> None:
    """A plain list of sentences."""
    with tag("ul", "plain-list"):
        for line in lines:
            words("li", line)


def _dress(element: ui.element, classes: str, attributes: dict[str, Any]) -> ui.element:
    if classes:
        element.classes(classes)
    for name, value in attributes.items():
        element._props[name.rstrip("_").replace("_", "-")] = value
    return element
