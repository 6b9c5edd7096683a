"""Write what a comparison is published as, without ever touching a recording."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import OutputExists
from wattwitness.workflows.compare import Progress, RecordingChoice, silent


def check_outputs(
    choices: Sequence[RecordingChoice], *, html_path: Path | None, figures_folder: Path | None, replace: bool
) -> None:
    """Refuse, before any work is done, outputs that would overwrite something.

    A recording is never overwritten, not even with ``replace``. Raises OutputExists.
    """
    inputs = {Path(choice.argument.rpartition("#")[0] or choice.argument).resolve() for choice in choices}
    inputs |= {Path(choice.argument).resolve() for choice in choices}
    for path in (html_path, figures_folder):
        if path is None:
            continue
        if path.resolve() in inputs:
            raise OutputExists(
                "The output would overwrite one of the recordings.", where=str(path), hint="Give it another name."
            )
        if path.exists() and not replace and (path is html_path or any(path.iterdir() if path.is_dir() else [path])):
            raise OutputExists(
                "There is something of that name already.",
                where=str(path),
                hint="Give another name, or add --replace to write over it.",
            )


def publish(
    comparison: Comparison,
    *,
    html_path: Path | None,
    figures_folder: Path | None,
    replace: bool,
    progress: Progress = silent,
) -> str:
    """Write the page and the figures that were asked for. Raises OutputExists, OutputNotWritable.

    Returns a sentence on signs of names that the figures could not show; empty where they could show all.
    """
    from wattwitness.sections.publication import of_comparison

    publication = of_comparison(comparison)
    if html_path is not None:
        from wattwitness.render.html import write_html

        progress(f"writing {html_path.name}")
        write_html(publication, html_path, replace=replace)
    if figures_folder is None:
        return ""
    from wattwitness.render.figures import write_figures
    from wattwitness.render.glyphs import sentence

    progress(f"drawing figures into {figures_folder.name}")
    write_figures(publication, figures_folder, replace=replace)
    return sentence((publication.about, publication.charts), where="the figures")
