"""A part of a page made anew in place: what is still there keeps its element.

So focus stays where it was, opened details stay open, and a press that is on its way meets the button that it meant.
"""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import Any

from nicegui import ui
from nicegui.elements.mixins.text_element import TextElement


class Question(ui.element):
    """An element that asks one question; which one may change while the element stays."""

    ask: Any = None


def renew(box: ui.element, stage: ui.element) -> None:
    """Give `box` the children of `stage`, a child of it that is then deleted; its like ones are kept and mended."""
    olds = [child for child in box.default_slot.children if child is not stage]
    _match(box, olds, list(stage.default_slot.children))
    stage.delete()


def _match(box: ui.element, olds: list[ui.element], news: list[ui.element]) -> None:
    before, after = [_sign(child) for child in olds], [_sign(child) for child in news]
    for what, i, i_end, j, j_end in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if what == "equal":
            for old, new in zip(olds[i:i_end], news[j:j_end], strict=True):
                _mend(old, new)
                _match(old, list(old.default_slot.children), list(new.default_slot.children))
            continue
        for old in olds[i:i_end]:
            old.delete()
        for place, new in enumerate(news[j:j_end], j):
            new.move(box, place)


def _sign(element: ui.element) -> tuple[Any, ...]:
    """What two elements have in common where one can become the other."""
    name = element._props.get("data-key") or element._props.get("id")
    heard = tuple(listener.type for listener in element._event_listeners.values())
    return type(element), element.tag, name, heard


def _mend(old: ui.element, new: ui.element) -> None:
    """Make `old` look and act like `new`."""
    looks = (old._props, old._classes, old._style, old._text)
    if looks != (new._props, new._classes, new._style, new._text):
        old._props.clear()
        old._props.update(new._props)
        old._classes[:] = new._classes
        old._style.clear()
        old._style.update(new._style)
        if isinstance(old, TextElement) and isinstance(new, TextElement):
            old.text = new.text
        old.update()
    listeners = zip(old._event_listeners.values(), new._event_listeners.values(), strict=True)
    for listener, fresh in listeners:
        listener.handler = fresh.handler
    if isinstance(old, Question) and isinstance(new, Question):
        old.ask = new.ask
