"""MkDocs hook: add the generated pages, list them in the navigation, and refuse a site that loads from a network."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.structure.files import File, Files

ROOT = Path(__file__).resolve().parents[1]
if str(ROOT) not in sys.path:  # MkDocs imports a hook by path, without the project's folder
    sys.path.insert(0, str(ROOT))

from tools.docs_pages import ERRORS, generated_pages, rooms  # noqa: E402

LOADED_FROM_OUTSIDE = re.compile(
    r"""<(?:script|img|iframe|source)\b[^>]*\ssrc=["']?(?:https?:)?//|<link\b(?![^>]*rel=["']?canonical)[^>]*"""
    r"""\shref=["']?(?:https?:)?//|@import\s+url\(["']?(?:https?:)?//|url\(["']?https?://"""
)


def on_config(config: MkDocsConfig) -> MkDocsConfig:
    """Put one entry for each error and each room where the navigation says so."""
    errors: list[Any] = ["reference/errors.md"]
    errors += [{path.stem: f"errors/{path.name}"} for path in sorted(ERRORS.glob("*.md"))]
    library = [{room: f"reference/library/{room}.md"} for room in rooms()]
    config.nav = [_filled(entry, {"ERRORS": errors, "LIBRARY": library}) for entry in config.nav or []]
    return config


def _filled(entry: Any, lists: dict[str, list[Any]]) -> Any:
    """The navigation entry with the words ERRORS and LIBRARY replaced by their lists."""
    if isinstance(entry, dict):
        return {title: _filled(child, lists) for title, child in entry.items()}
    if isinstance(entry, list):
        return [_filled(child, lists) for child in entry]
    return lists.get(entry, entry)


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the pages made from the code."""
    for path, text in generated_pages().items():
        files.append(File.generated(config, path, content=text))
    return files


def on_post_build(config: MkDocsConfig) -> None:
    """Refuse a page, style or script that would fetch something when it is opened."""
    for path in Path(config.site_dir).rglob("*.html"):
        found = LOADED_FROM_OUTSIDE.search(path.read_text(encoding="utf-8"))
        if found:
            raise PluginError(f"{path} loads from a network: {found.group()[:120]}")
