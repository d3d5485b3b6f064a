"""docs/checks.md, made from the rows themselves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from evenwall.proof.rows import modules, rows_of
from evenwall.proof.table import Row

HEAD: Final = """# What evenwall is checked against

Every row is computed anew by `evenwall proof` (and by the tests) and must come out within its tolerance.
*Published*: read in the named document, or following from its equation; *common practice*: a fact of the trade without
a source; *from memory*: a value that its author could not look up again. `evenwall proof --full` adds the long studies.
"""


def checks_page() -> str:
    """The whole page; computes every quick row (a minute)."""
    return "\n".join([HEAD, *(section(module, rows_of(module)) for module in modules())])


def section(module: str, rows: Iterable[Row]) -> str:
    """The table of one module's rows: what is checked, the source's value, how near, and the source."""
    lines = [
        f"## {module.replace('_', ' ').capitalize()}",
        "",
        "| check | expected | within | source | status |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {row.check} | {_number(row.expected)} {row.unit} | {_within(row)} | {row.source} | {row.status} |".replace(
            "  ", " "
        )
        for row in rows
    ]
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{value:.4g}"


def _within(row: Row) -> str:
    """The tolerance, as a share of the expected value where there is one."""
    more = " or more" if row.at_least else ""
    if row.expected and row.tolerance < abs(row.expected):
        return f"{100.0 * row.tolerance / abs(row.expected):.2g} %{more}"
    return f"{row.tolerance:.2g} {row.unit}".strip()
