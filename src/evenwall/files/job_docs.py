"""docs/job-file.md, made from the keys that job.toml really has."""

from __future__ import annotations

import types
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from evenwall.files.job_schema import FORMAT, JobFile

#: the end of a key's name says its unit
UNITS: Final = {
    "_J_kgK": "J/(kg K)",
    "_W_mK": "W/(m K)",
    "_g_mL": "g/mL",
    "_percent": "%",
    "_min": "min",
    "_rpm": "turns/min",
    "_per_kg": "currency/kg",
    "_cm2": "cm²",
    "_mm": "mm",
    "_mL": "mL",
    "_C": "°C",
    "_g": "g",
    "_s": "s",
}
#: the rules of a key, in words
BOUNDS: Final = {
    "gt": "over {:g}",
    "ge": "from {:g}",
    "le": "to {:g}",
    "lt": "under {:g}",
}
MONEY: Final = ("hour", "mold_price")

HEAD: Final = f"""# job.toml, key by key

A job is a folder with `job.toml`, the piece's mesh, and what evenwall writes there. Every key but the piece's mesh
may be left out: the default then holds. A key's name ends in its unit; the file always speaks grams, millimetres and
°C, whatever `units` says is shown. A key that is not listed here is refused. Comments and order of the file stay when
the app writes it.

```toml
format = {FORMAT}
name = "Replica ammonite"

[piece]
mesh = "ammonite.stl"
unit = "mm"

[wall]
target_wall_mm = 3.0
least_wall_mm = 1.2

[resin]
name = "museum-gradual"
pigment_percent = 2.0

[mold]
weight_g = 1850
outer_mm = [184, 166, 84]

[machine]
frame_opening_mm = [420, 320]

[[machine.weights]]
name = "steel clamp"
weight_g = 480
count = 4
```
"""


def job_file_page() -> str:
    """The whole page, in Markdown."""
    parts = [HEAD]
    plain = {
        name: field for name, field in JobFile.model_fields.items() if _section(field.annotation) is None
    }
    parts.append(_table("The file itself", "", plain))
    parts += _tables(JobFile, "")
    return "\n".join(parts)


def _tables(model: type[BaseModel], path: str) -> list[str]:
    """A table of keys for every section under `model`, in the order of the file."""
    parts = []
    for name, field in model.model_fields.items():
        section = _section(field.annotation)
        if section is None:
            continue
        inner = f"{path}{name}"
        title = f"`[[{inner}]]`" if get_origin(field.annotation) is list else f"`[{inner}]`"
        said = (section.__doc__ or "").strip()
        keys = {key: one for key, one in section.model_fields.items() if _section(one.annotation) is None}
        parts.append(_table(title, said, keys))
        parts += _tables(section, f"{inner}.")
    return parts


def _table(title: str, said: str, fields: dict[str, FieldInfo]) -> str:
    rows = [
        f"| `{name}` | {_unit(name)} | {_values(field)} | {_default(field)} | {_cell(field.description or '')} |"
        for name, field in fields.items()
    ]
    head = ["| key | unit | value | default | meaning |", "|---|---|---|---|---|"]
    return "\n".join([f"## {title}", *([said] if said else []), "", *head, *rows, ""])


def _section(annotation: Any) -> type[BaseModel] | None:
    """The section behind a key, itself or a list of it; None for a plain key."""
    inner = get_args(annotation)[0] if get_origin(annotation) is list else annotation
    return inner if isinstance(inner, type) and issubclass(inner, BaseModel) else None


def _unit(name: str) -> str:
    if name in MONEY:
        return "currency"
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "")


def _values(field: FieldInfo) -> str:
    """What may stand there, with its bounds."""
    said = _kind(field.annotation)
    rules = [*field.metadata, *_rules(field.annotation)]
    bounds = []
    for rule in rules:
        for name, words in BOUNDS.items():
            limit = getattr(rule, name, None)
            if limit is not None:
                bounds.append(words.format(limit))
    what = "signs" if field.annotation is str else "of them"
    least = max((getattr(rule, "min_length", None) or 0 for rule in rules), default=0)
    most = min((getattr(rule, "max_length", None) or 10**9 for rule in rules), default=10**9)
    long = f"{least}" if least == most else f"up to {most}" if most < 10**9 else f"at least {least}"
    counted = [f"({long} {what})"] if least or most < 10**9 else []
    return _cell(" ".join([said, *dict.fromkeys(bounds), *counted]))


def _rules(annotation: Any) -> list[Any]:
    """Constraints that an annotation carries inside."""
    if get_origin(annotation) is Annotated:
        found: list[Any] = []
        for rule in get_args(annotation)[1:]:
            found += rule.metadata if isinstance(rule, FieldInfo) else [rule]
        return found
    return [rule for inner in get_args(annotation) for rule in _rules(inner)]


def _kind(annotation: Any) -> str:
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _kind(inner[0])
    if origin in (Union, types.UnionType):
        return " or ".join(_kind(one) for one in inner if one is not type(None))
    if origin is Literal:
        return ", ".join(f"`{one}`" for one in inner)
    if origin is list:
        return f"list of {_many(inner[0])}"
    if origin is dict:
        return f"table of {_many(inner[1])} by name"
    return {float: "number", int: "whole number", str: "text", bool: "true or false"}[annotation]


def _many(annotation: Any) -> str:
    first, _, rest = _kind(annotation).partition(" ")
    return f"{first}s {rest}".strip()


def _default(field: FieldInfo) -> str:
    value = field.default
    if value is PydanticUndefined:
        return "must be given"
    if value is None or value in ([], {}):
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:g}"
    return _cell(f"`{value}`" if isinstance(value, str) else str(value))


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
