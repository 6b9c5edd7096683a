"""A published page inside another page, shut off as strictly as a host may, and the tester's words on it."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.factories import HOSTILE_NAME, comparison
from wattwitness.render.html import ASSETS, page
from wattwitness.sections.publication import of_comparison
from wattwitness.sections.tester_notes import with_notes

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

NOTES = f"Ridden in the cellar.\n\n{HOSTILE_NAME} <img src=x onerror=alert(1)> **bold** [link](javascript:alert(1))"

pytestmark = pytest.mark.skipif(
    not (ASSETS / "vendor" / "uPlot.iife.min.js").is_file(), reason="the chart library is not built in: run make assets"
)


@pytest.mark.parametrize(("sandbox", "inside"), [("allow-scripts", True), ("allow-scripts", False), ("", False)])
def test_it_works_inside_another_page(
    browser_context: BrowserContext, tmp_path: Path, sandbox: str, inside: bool
) -> None:
    """With its script in a frame that has no origin, as a file or as text; without scripts as a still picture."""
    text = page(with_notes(of_comparison(comparison()), NOTES))
    (tmp_path / "report.html").write_text(text, "utf-8")
    source = f'srcdoc="{escape(text)}"' if inside else 'src="report.html"'
    host = tmp_path / "host.html"
    frame = f'<iframe id="f" sandbox="{sandbox}" width="900" height="700" {source}></iframe>'
    host.write_text(f'<!doctype html><html lang="en"><title>Host</title><h1>Host</h1>{frame}</html>', "utf-8")
    opened = browser_context.new_page()
    said: list[str] = []
    asked: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("dialog", lambda dialog: said.append("a dialog"))
    opened.on("request", lambda request: asked.append(request.url))
    opened.goto(host.as_uri())
    inner = opened.frame_locator("#f")
    assert "reads 4.3" in inner.locator("#answer").inner_text()
    notes = inner.locator("section.tester")
    assert "Nothing here was worked out or checked by wattwitness." in notes.inner_text()
    assert "<img src=x onerror=alert(1)> **bold** [link](javascript:alert(1))" in notes.inner_text()
    assert notes.locator("img, a, script, b").count() == 0
    if sandbox:
        inner.locator(".plot canvas").first.wait_for(timeout=20_000)
        assert said == []
    else:
        assert inner.locator("figure.ride .paper svg.chart").first.is_visible()
        assert all("script" in line for line in said), "nothing but that scripts are not run here"
    assert {url for url in asked if not url.startswith(("file:", "data:", "blob:", "about:"))} == set()
    opened.close()
