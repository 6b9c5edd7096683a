"""A study as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.study import Study
from wattwitness.render.html import page_of
from wattwitness.render.saving import save
from wattwitness.sections.over_rides.registry import study_sections
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean, sentence_start


def write_study_html(study: Study, unused: Sequence[tuple[str, str]], path: Path, *, replace: bool = True) -> None:
    """Write the page in one step. Raises OutputExists, OutputNotWritable."""
    save(study_page(study, unused).encode("utf-8"), path, replace=replace)


def study_page(study: Study, unused: Sequence[tuple[str, str]] = ()) -> str:
    """The page as text."""
    days = sorted({ride.day for ride in study.rides if ride.day})
    when = counted(len(study.rides), "ride") + (f", {days[0]} to {days[-1]}" if days else "")
    return page_of(
        study_sections(study, unused),
        title=f"{sentence_start(clean(study.unit))} over many rides",
        kind="study",
        when=when,
        version=study.version,
    )
