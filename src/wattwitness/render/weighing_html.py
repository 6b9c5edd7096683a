"""Hanging weights as one page that needs nothing else."""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.hanging_weights import WeighingReport
from wattwitness.render.html import page_of
from wattwitness.render.saving import save
from wattwitness.sections.weighing import weighing_sections
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean


def write_weighing_html(report: WeighingReport, path: Path, *, replace: bool = True) -> None:
    """Write the page in one step. Raises OutputExists, OutputNotWritable."""
    save(weighing_page(report).encode("utf-8"), path, replace=replace)


def weighing_page(report: WeighingReport) -> str:
    """The page as text; the caution stands before the numbers, where nobody can miss it."""
    *told, caution = weighing_sections(report)
    return page_of(
        (caution, *told),
        title=f"{_meters(report)} under hanging weights",
        kind="hanging weights",
        when=_when(report),
        version=report.version,
    )


def _meters(report: WeighingReport) -> str:
    names = list(dict.fromkeys(clean(item.meter) for item in report.weighings))
    if len(names) > 1:
        return f"{len(names)} meters"
    name = names[0] or "a meter"
    return name[:1].upper() + name[1:]


def _when(report: WeighingReport) -> str:
    dates = sorted({item.date for item in report.weighings if item.date})
    many = counted(len(report.weighings), "worksheet")
    if not dates:
        return many
    return f"{many}, {dates[0]}" + (f" to {dates[-1]}" if len(dates) > 1 else "")
