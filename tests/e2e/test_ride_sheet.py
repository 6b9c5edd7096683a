"""The ride sheet in a browser: whole at both widths, and every step on paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wattwitness.cli.main import run

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plan") / "sheet.html"
    arguments = ["plan", "--limit-pct", "2", "--reference-uncertainty-pct", "0.5", "--threshold-w", "250"]
    assert run([*arguments, "--html", str(path), "--format", "json"]) == 0
    return path


@pytest.mark.parametrize("width", [1280, 390])
def test_the_sheet_fits_and_runs_without_an_error(sheet: Path, browser_context: BrowserContext, width: int) -> None:
    page = browser_context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(sheet.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert page.locator("h1").inner_text() == "Ride sheet"
    caution, steps = page.locator(".warning").first.bounding_box(), page.locator("#order_A").bounding_box()
    assert caution is not None
    assert steps is not None
    assert caution["y"] < steps["y"]
    assert errors == []
    page.close()


def test_every_step_of_both_orders_is_printed(sheet: Path, browser_context: BrowserContext) -> None:
    """Nothing that is to be ridden stands behind something that opens on a click."""
    page = browser_context.new_page()
    page.goto(sheet.as_uri())
    page.emulate_media(media="print")
    for order in ("order_A", "order_B"):
        rows = page.locator(f"#{order} tbody tr")
        assert rows.count() == 26
        assert all(row.is_visible() for row in rows.all())
        assert page.locator(f"#{order} svg.chart.wide").first.is_visible()
    page.close()
