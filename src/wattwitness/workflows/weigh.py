"""Hanging weights: worksheets in, what they say of the meter out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from wattwitness import __version__
from wattwitness.model.errors import WorksheetInvalid
from wattwitness.model.hanging_weights import Weighing, WeighingReport, Worksheet
from wattwitness.reference.hanging_weights import weigh
from wattwitness.reference.weighing_copies import distinct_worksheets
from wattwitness.reference.weighing_drift import drifts_of
from wattwitness.workflows.outputs import refuse_overwriting


def weigh_files(paths: Sequence[Path], *, level: float = 0.95) -> WeighingReport:
    """Evaluate worksheets, in the order of their dates (undated ones as given), and the drift between them.

    Raises WorksheetInvalid.
    """
    from wattwitness.readers.worksheet import load_worksheet

    return weigh_worksheets([load_worksheet(path) for path in paths], level=level)


def weigh_worksheets(worksheets: Sequence[Worksheet], *, level: float = 0.95) -> WeighingReport:
    """The same from worksheets as data, as a form would give them; a copy counts once. Raises WorksheetInvalid."""
    if all(worksheet.date for worksheet in worksheets):
        worksheets = sorted(worksheets, key=lambda worksheet: worksheet.date)
    distinct = distinct_worksheets(worksheets)
    weighings = tuple(
        replace(weighing, notices=(*said, *weighing.notices)) if said else weighing
        for worksheet, said in zip(distinct.worksheets, distinct.notices, strict=True)
        for weighing in (_weighed(worksheet, level),)
    )
    return WeighingReport(
        weighings=weighings, drifts=drifts_of(weighings, level=level), level=level, version=__version__
    )


def save_blank_worksheet(path: Path) -> None:
    """Write an empty worksheet to ``path``. Raises OutputExists, OutputNotWritable."""
    from wattwitness.writers.worksheet import write_blank_worksheet

    write_blank_worksheet(path)


def check_page(worksheets: Sequence[Path], path: Path, *, replace: bool) -> None:
    """Refuse, before any work is done, a page that would overwrite a worksheet, or anything unless ``replace``.

    Raises OutputExists.
    """
    refuse_overwriting(path, worksheets, replace=replace, overwrites="The page would overwrite one of the worksheets.")


def publish_weighing(report: WeighingReport, path: Path, *, replace: bool) -> None:
    """Write the page. Raises OutputExists, OutputNotWritable."""
    from wattwitness.render.weighing_html import write_weighing_html

    write_weighing_html(report, path, replace=replace)


def _weighed(worksheet: Worksheet, level: float) -> Weighing:
    try:
        return weigh(worksheet, level=level)
    except ValueError as error:
        raise WorksheetInvalid(
            f"The worksheet holds too little: {error}.",
            where=worksheet.source or worksheet.meter,
            hint="Hang at least two different weights in each series, and read the unloaded meter before or after.",
        ) from error
