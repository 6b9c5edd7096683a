"""The statement to a maker in a browser: it fits a phone, runs nothing, and goes onto paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.factories import HOSTILE_NAME, several_units
from tests.factories_evidence import drop, found, other, with_faults
from wattwitness.model.episodes import FaultsFound, Finding
from wattwitness.render.evidence.statement_page import statement_page
from wattwitness.sections.small_print import of_statement
from wattwitness.sections.statement import statement_of

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

CASES = {
    "defect": found(drop(), drop(2100, 2160, -26), other(Finding.RIDER)),
    "nothing": found(),
    "blind": None,
}
SMALL = of_statement(several_units(), several_units().pairs[0])


@pytest.mark.parametrize("unit", ["Studio bike B", HOSTILE_NAME], ids=["plain", "hostile"])
@pytest.mark.parametrize("faults", list(CASES.values()), ids=list(CASES))
def test_it_fits_every_width_and_runs_nothing(
    browser_context: BrowserContext, tmp_path: Path, faults: FaultsFound | None, unit: str
) -> None:
    """No sideways scrolling of the page, no script, no request, no word on the console."""
    path = tmp_path / "statement.html"
    text = statement_page(
        statement_of(with_faults(faults), "Laboratory pedals", unit), version="0.1.0", small_print=SMALL
    )
    path.write_text(text, encoding="utf-8")
    page = browser_context.new_page()
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(path.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.locator("h1").inner_text().strip()
    assert page.locator("script").count() == 0
    assert said == []
    assert {url for url in asked if not url.startswith(("file:", "data:"))} == set()
    page.close()


def test_it_goes_onto_one_sheet_or_two(browser_context: BrowserContext, tmp_path: Path) -> None:
    """As fonts are; more would be no page for a maker."""
    path = tmp_path / "statement.html"
    text = statement_page(
        statement_of(with_faults(CASES["defect"]), "Pedals", "Bike"), version="0.1.0", small_print=SMALL
    )
    path.write_text(text, encoding="utf-8")
    page = browser_context.new_page()
    page.goto(path.as_uri())
    sheets = page.pdf(prefer_css_page_size=True).count(b"/Type /Page\n")
    page.close()
    assert 1 <= sheets <= 2
