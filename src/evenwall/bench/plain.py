"""Plans, facts and events as JSON and back: what the ledger keeps and the page reads."""

from __future__ import annotations

from collections.abc import Callable
from math import isfinite
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from evenwall.bench.casting import BenchPlan
from evenwall.bench.events import Event
from evenwall.bench.recipe import Recipe
from evenwall.errors import JobError

T = TypeVar("T")
LONGEST_ID = 64
LONGEST_TEXT = 2000
_PLAN: TypeAdapter[BenchPlan] = TypeAdapter(BenchPlan)
_RECIPE: TypeAdapter[Recipe] = TypeAdapter(Recipe)
_EVENTS: TypeAdapter[list[Event]] = TypeAdapter(list[Event])


def plan_to_json(plan: BenchPlan) -> str:
    """`plan` as JSON text."""
    return _PLAN.dump_json(plan).decode()


def plan_from_json(text: str) -> BenchPlan:
    """The plan in JSON text; raises JobError where it isn't one."""
    return _read(_PLAN.validate_json, text, "bench plan")


def recipe_to_json(recipe: Recipe) -> str:
    """`recipe` as JSON text, the resin's laws with it."""
    return _RECIPE.dump_json(recipe).decode()


def recipe_from_json(text: str) -> Recipe:
    """The recipe in JSON text; raises JobError where it isn't one."""
    return _read(_RECIPE.validate_json, text, "bench recipe")


def events_from(told: Any) -> list[Event]:
    """Events as a device sent them (parsed JSON); raises JobError where one isn't an event."""
    events = _read(_EVENTS.validate_python, told, "bench event")
    for event in events:
        if not all(isfinite(number) for number in (event.at, event.stamped, event.value or 0.0)):
            raise JobError(f"bench event {event.id}: a number in it is not finite: send it again")
        if not 0 < len(event.id) <= LONGEST_ID or len(event.text) > LONGEST_TEXT:
            raise JobError(
                f"bench event {event.id[:LONGEST_ID]!r}: its id or text is too long: send it shorter"
            )
    return events


def events_to(events: tuple[Event, ...]) -> Any:
    """Events as plain lists and dictionaries for JSON."""
    return _EVENTS.dump_python(list(events), mode="json")


def _read(validate: Callable[[Any], T], told: Any, what: str) -> T:
    """`told` as `validate` takes it; JobError that names `what`, and the first fault."""
    try:
        return validate(told)
    except ValidationError as error:
        fault = error.errors()[0]
        where = ".".join(str(part) for part in fault["loc"]) or "the whole"
        raise JobError(
            f"{what}: {where} is {fault['input']!r}: {fault['msg'].lower()}, send it again"
        ) from None
