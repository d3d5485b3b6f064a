"""Every function that docs/api.md promises can be imported and carries a docstring."""

import importlib
import re
from pathlib import Path

import pytest

API = (Path(__file__).parent.parent / "docs" / "api.md").read_text(encoding="utf-8")
NAMES = re.findall(r"`(evenwall(?:\.\w+)+)\(", API)


def test_the_page_names_functions():
    assert len(NAMES) >= 8


@pytest.mark.parametrize("name", NAMES)
def test_a_promised_function_exists(name):
    module, function = name.rsplit(".", 1)
    assert getattr(importlib.import_module(module), function).__doc__
