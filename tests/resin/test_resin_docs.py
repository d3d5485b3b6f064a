"""docs/resin.md names every key and every calibrated constant."""

import re
import tomllib
from pathlib import Path

from evenwall.files.resin_file import load_sheet, sheet_from
from evenwall.resin.calibrate import CONSTANTS
from evenwall.sheet_units import keys

TEXT = (Path(__file__).parents[2] / "docs" / "resin.md").read_text("utf-8")


def test_every_key_is_documented():
    named = set(re.findall(r"`([a-z]\w*)`", TEXT))
    assert set(keys()) <= named


def test_every_fixed_constant_is_named():
    for constant in CONSTANTS:
        assert constant in TEXT


def test_the_example_file_is_read():
    example = re.search(r"```toml\n(.*?)```", TEXT, re.DOTALL).group(1)
    sheet = sheet_from(tomllib.loads(example))
    assert sheet.pot_life is not None
    assert load_sheet("museum-gradual").pot_life is not None
