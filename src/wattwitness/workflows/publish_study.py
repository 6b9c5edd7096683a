"""Write what a study is published as."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.errors import OutputExists
from wattwitness.model.study import Study


def check_page(html_path: Path | None, *, replace: bool) -> None:
    """Refuse, before any work is done, a page that would overwrite something. Raises OutputExists."""
    if html_path is not None and html_path.exists() and not replace:
        raise OutputExists(
            "There is something of that name already.",
            where=str(html_path),
            hint="Give another name, or add --replace to write over it.",
        )


def publish_study(study: Study, unused: Sequence[tuple[str, str]], *, html_path: Path | None, replace: bool) -> None:
    """Write the page that was asked for. Raises OutputExists, OutputNotWritable."""
    if html_path is not None:
        from wattwitness.render.study_html import write_study_html

        write_study_html(study, unused, html_path, replace=replace)
