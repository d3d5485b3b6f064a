"""Every quick outside check holds, names its source, could fail, and stands in docs/checks.md."""

from pathlib import Path

import pytest

from evenwall.proof.page import section
from evenwall.proof.rows import modules, rows_of

PAGE = (Path(__file__).parents[2] / "docs" / "checks.md").read_text(encoding="utf-8")
AGAIN = "python -c 'from evenwall.proof.page import *; print(checks_page(), end=\"\")' > docs/checks.md"


@pytest.mark.parametrize("module", modules())
def test_every_quick_row_holds(module):
    rows = list(rows_of(module))
    assert rows
    missed = [
        f"{r.check}: {r.got} where {r.source} has {r.expected} +- {r.tolerance}" for r in rows if not r.holds
    ]
    assert not missed, "\n".join(missed)
    assert all(row.source and row.status for row in rows)
    assert len({(row.check, row.expected, row.source) for row in rows}) == len(rows)
    assert section(module, rows) in PAGE, f"make the page again: {AGAIN}"
