"""The worked example of docs/machine.md runs and says what the page says."""

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "machine.md"


def test_the_page_prints_what_it_says(capsys: pytest.CaptureFixture[str]) -> None:
    page = PAGE.read_text(encoding="utf-8")
    names: dict[str, object] = {}
    for block in re.findall(r"```python\n(.*?)```", page, flags=re.DOTALL):
        exec(compile(block, str(PAGE), "exec"), names)
    said = capsys.readouterr().out
    assert "20 mm\u00a0\u2212x, 10 mm\u00a0+y, 39 mm\u00a0\u2212z" in said
    assert "Hang" in said
    report = names["report"]
    assert not report.counterweights  # type: ignore[attr-defined]
    assert report.frame_axis_torque.before == pytest.approx(4.7, abs=0.05)  # type: ignore[attr-defined]
