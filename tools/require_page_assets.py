"""A build hook: no wheel or source archive without the page's chart library, which git does not hold."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

VENDOR = Path("src/wattwitness/render/assets/vendor")
NEEDED = ("uPlot.iife.min.js", "uPlot.min.css", "LICENSE")


class RequirePageAssets(BuildHookInterface[Any]):
    """Refuse to build a package whose report could not draw its charts."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002 - the interface's own
        """Check before anything is written; an editable install may come first."""
        missing = [name for name in NEEDED if not (Path(self.root) / VENDOR / name).is_file()]
        if missing and version != "editable":
            raise RuntimeError(f"{VENDOR} lacks {', '.join(missing)}: run “make assets” first.")
