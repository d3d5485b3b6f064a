"""All rows of all rooms, in the order a user reads them."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator

from evenwall import proof
from evenwall.proof.table import Row

_NO_ROWS = {"rows", "table", "shapes", "page"}  # how rows are made, no rows of their own


def modules() -> tuple[str, ...]:
    """Names of the modules of this room that offer rows, sorted."""
    return tuple(sorted(m.name for m in pkgutil.iter_modules(proof.__path__) if m.name not in _NO_ROWS))


def rows_of(module: str, *, full: bool = False) -> Iterator[Row]:
    """The rows of one module, the long studies only when `full`."""
    offered: Iterator[Row] = importlib.import_module(f"evenwall.proof.{module}").rows(full=full)
    yield from offered


def all_rows(*, full: bool = False) -> Iterator[Row]:
    """Every row, one by one as it is computed."""
    for module in modules():
        yield from rows_of(module, full=full)
