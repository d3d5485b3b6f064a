"""The skin on the closing board: what it takes of the shots, and what of it stays."""

import pytest

from evenwall.plan.board import board_notes, board_skin
from evenwall.plan.casting_job import Mold


def test_the_board_takes_its_share_and_only_a_base_keeps_it():
    skins = {
        opening: board_skin(Mold(opening=opening, opening_area=2e-3), wall_area=2e-2, mass=0.2)
        for opening in ("base counts", "trimmed", "pour hole")
    }
    assert [skin.mass for skin in skins.values()] == pytest.approx([0.02] * 3)
    assert [skin.trimmed for skin in skins.values()] == pytest.approx([0.0, 0.02, 0.02])
    said = {board_notes(skin) for skin in skins.values()}
    assert len(said) == 3
    assert all(len(notes) == 1 and "20 g" in notes[0] and "20 cm²" in notes[0] for notes in said)


def test_a_closed_mold_has_no_board():
    assert board_skin(Mold(), wall_area=2e-2, mass=0.2) is None
    assert board_notes(None) == ()
