"""The import contracts cover every room, so that a new one cannot stand outside them."""

from __future__ import annotations

import tomllib
from typing import Any

from tools.docs_pages import ROOT, rooms

ADAPTERS = {"readers", "writers", "capture", "bench", "engine", "render"}


def contract(kind: str) -> dict[str, Any]:
    """The one import contract of a kind."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (found,) = (item for item in project["tool"]["importlinter"]["contracts"] if item["type"] == kind)
    return dict(found)


def test_every_compute_room_is_kept_from_the_libraries_of_the_adapters() -> None:
    """Below readers to render no room may know a file format, a drawing, a page, a database or a radio."""
    below = set(rooms()) - ADAPTERS - {"workflows"}
    assert set(contract("forbidden")["source_modules"]) == {f"wattwitness.{room}" for room in below}


def test_a_room_that_is_not_placed_is_refused() -> None:
    """The layers are exhaustive: the import linter itself fails for a room that they do not name."""
    assert contract("layers")["exhaustive"] is True
