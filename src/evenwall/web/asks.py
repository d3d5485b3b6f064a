"""The questions of the forms: what a key of job.toml is called, and how an answer becomes its value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from evenwall.errors import InputError
from evenwall.files.job_schema import JobFile
from evenwall.web import amounts

Kind = Literal["number", "numbers", "points", "text", "choice", "yes"]


@dataclass(frozen=True, kw_only=True)
class Ask:
    """One question about one key."""

    key: str  # dotted key in job.toml
    label: str  # what it is called on the page
    kind: Kind = "number"
    options: tuple[tuple[str, str], ...] = ()  # for a choice: value, name
    note: str = ""  # one sentence under the field
    unset: str = ""  # what to say where the job leaves it open, e.g. "half the usual wall"
    typical: bool = True  # the default is a typical value, to be marked as such


def shown(ask: Ask, value: Any, system: str) -> str:
    """The value as the field shows it."""
    if value is None or value == []:
        return ""
    if ask.kind == "yes":
        return "yes" if value else "no"
    if ask.kind in ("choice", "text"):
        return str(value)
    if ask.kind == "points":
        return "; ".join(" ".join(amounts.plain(float(x)) for x in point) for point in value)
    unit = amounts.unit_of(ask.key)
    into = amounts.shown_unit(unit, system)
    several = value if isinstance(value, list) else [value]
    return " ".join(amounts.plain(amounts.converted(float(one), unit, into), 5) for one in several)


def meant(ask: Ask, text: str, system: str) -> Any:
    """The value that an answer means, None where it was emptied; InputError where it means nothing."""
    if ask.kind == "yes":
        return text == "yes"
    if not text.strip():
        return None
    if ask.kind in ("choice", "text"):
        return int(text) if ask.kind == "choice" and text.isdigit() else text.strip()
    if ask.kind == "points":
        return _points(text)
    unit = amounts.unit_of(ask.key)
    into = amounts.shown_unit(unit, system)
    if ask.kind == "numbers":
        return [_rounded(amounts.converted(one, into, unit)) for one in amounts.numbers(text)]
    value = _rounded(amounts.converted(amounts.number(text), into, unit))
    return int(value) if _is_whole(ask.key) and value == int(value) else value


def _points(text: str) -> list[list[float]]:
    """Places in three numbers each."""
    flat = [_rounded(one) for one in amounts.numbers(text)]
    if len(flat) % 3:
        raise InputError(f"{len(flat)} numbers are not x, y and z of each point: write three for a point")
    return [flat[k : k + 3] for k in range(0, len(flat), 3)]


def refusal(ask: Ask, error: ValidationError, system: str) -> str:
    """The first fault of an answer in one sentence: name, value, limit."""
    fault = error.errors()[0]
    limits: dict[str, Callable[[Any], str]] = {
        "greater_than": lambda c: f"must be more than {_with_unit(ask, c['gt'], system)}",
        "greater_than_equal": lambda c: f"must be at least {_with_unit(ask, c['ge'], system)}",
        "less_than": lambda c: f"must be less than {_with_unit(ask, c['lt'], system)}",
        "less_than_equal": lambda c: f"must be at most {_with_unit(ask, c['le'], system)}",
        "too_long": lambda c: f"takes {c['max_length']} numbers at most",
        "too_short": lambda c: f"needs {c['min_length']} numbers",
        "int_from_float": lambda _: "must be a whole number",
        "int_type": lambda _: "must be a whole number",
        "string_too_long": lambda c: f"can have {c['max_length']} letters at most",
    }
    say = limits.get(fault["type"])
    text = say(fault.get("ctx", {})) if say else fault["msg"][0].lower() + fault["msg"][1:]
    value = fault["input"]
    given = f"{_with_unit(ask, value, system)} " if isinstance(value, int | float) else ""
    return f"{ask.label} {f'is {given}and ' if given else ''}{text}."


def origin(ask: Ask, *, said: bool, value: Any) -> tuple[str, str]:
    """In a word and in a sentence: where the value comes from."""
    if said:
        return "yours", f"You said so; it is kept as {ask.key} in job.toml. Empty the field to forget it."
    if value is None or value == []:
        return ("open", f"Left open: {ask.unset}.") if ask.unset else ("", "")
    if ask.kind in ("yes", "choice", "text", "points"):
        return "", ""
    if ask.typical:
        return (
            "typical",
            f"A typical value, not measured here: {description(ask.key)}. Better: measure yours.",
        )
    return "usual", f"What evenwall starts with: {description(ask.key)}."


def description(key: str) -> str:
    """What job.toml's documentation says of a key."""
    info = _field(key)
    return (info.description or "") if info else ""


def _field(key: str) -> FieldInfo | None:
    model: Any = JobFile
    info: FieldInfo | None = None
    for part in key.split("."):
        if part.isdigit():
            continue
        if not (isinstance(model, type) and issubclass(model, BaseModel)):
            return None
        info = model.model_fields.get(part)
        if info is None:
            return None
        model = _model_in(info.annotation)
    return info


def _model_in(annotation: Any) -> Any:
    for part in (annotation, *getattr(annotation, "__args__", ())):
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return annotation


def _is_whole(key: str) -> bool:
    info = _field(key)
    kinds = (info.annotation, *getattr(info.annotation, "__args__", ())) if info else ()
    return int in kinds


def _rounded(value: float) -> float:
    """Without the dust of a change of units."""
    if value != value or abs(value) == float("inf"):
        raise InputError("that number is too large: write a smaller one")
    return float(f"{value:.10g}")


def _with_unit(ask: Ask, value: float, system: str) -> str:
    unit = amounts.unit_of(ask.key)
    into = amounts.shown_unit(unit, system)
    return f"{amounts.plain(amounts.converted(value, unit, into), 5)} {amounts.unit_name(into)}".strip()
