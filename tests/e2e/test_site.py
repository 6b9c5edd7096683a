"""The documentation in a browser: opened from a folder, it loads nothing from a network and fits a phone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tools.docs_pages import ROOT

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built site."""
    from mkdocs.commands.build import build
    from mkdocs.config import load_config

    folder = tmp_path_factory.mktemp("site")
    build(load_config(str(ROOT / "mkdocs.yml"), site_dir=str(folder), strict=True))
    return folder


@pytest.mark.parametrize("page_name", ["index", "concepts/bias", "reference/commands", "reference/json"])
def test_a_page_opens_without_a_network_and_without_an_error(
    site: Path, browser_context: BrowserContext, page_name: str
) -> None:
    """Every request is for a file of the site, and the page fits a phone's width."""
    page = browser_context.new_page()
    requests: list[str] = []
    errors: list[str] = []
    page.on("request", lambda request: requests.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.set_viewport_size({"width": 380, "height": 800})
    page.goto((site / f"{page_name}.html").as_uri())
    page.wait_for_load_state("load")
    assert page.locator("h1").count() == 1
    assert page.evaluate("document.documentElement.scrollWidth") <= 380
    page.close()
    assert requests
    assert not [url for url in requests if not url.startswith(("file:", "data:", "blob:"))]
    assert not errors
