"""No view has a serious fault by axe-core's rules (WCAG 2.2 A and AA), by day and by night."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from evenwall.web.urls import VIEWS

pytestmark = pytest.mark.browser
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


@pytest.mark.parametrize("light", ["light", "dark"])
def test_no_serious_fault(app, opened: Callable[..., Page], job, light: str) -> None:
    _, address = job(f"axe-{light}")
    page = opened(app, color_scheme=light)
    found = faults(page, "start")
    for view in VIEWS:
        page.goto(app.url(f"{address}/{view}"))
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        if view == "piece":
            expect(page.locator(".figure").filter(has_text="Wall area")).to_be_visible()
        page.wait_for_load_state("networkidle")
        found += faults(page, view)
    assert found == []


def faults(page: Page, view: str) -> list[str]:
    answer = Axe().run(page, options=RULES).response
    return [
        f"{view}: {fault['id']}: {node['html'][:160]}"
        for fault in answer["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]
