"""Every quick outside check holds, names its source, and could fail."""

import pytest

from evenwall.proof.rows import modules, rows_of


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
