"""A study as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace as with_changes
from pathlib import Path

from wattwitness.model.section import Section
from wattwitness.model.study import Study
from wattwitness.render.html import page_of
from wattwitness.render.saving import save
from wattwitness.sections.over_rides import side_by_side, verdict
from wattwitness.sections.over_rides.registry import study_sections
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean, sentence_start


def write_study_html(study: Study, unused: Sequence[tuple[str, str]], path: Path, *, replace: bool = True) -> None:
    """Write the page in one step. Raises OutputExists, OutputNotWritable."""
    save(study_page(study, unused).encode("utf-8"), path, replace=replace)


def write_side_by_side_html(studies: Sequence[Study], path: Path, *, replace: bool = True) -> None:
    """Write the page of several units in one step. Raises OutputExists, OutputNotWritable."""
    text = page_of(
        (side_by_side.build(studies), *(_headed(study) for study in studies)),
        title=f"{len(studies)} units side by side",
        kind="studies",
        when=counted(sum(len(study.rides) for study in studies), "ride"),
        version=studies[0].version,
    )
    save(text.encode("utf-8"), path, replace=replace)


def _headed(study: Study) -> Section:
    """The verdict of one unit under its own name."""
    section = verdict.build(study)
    unit = sentence_start(clean(study.unit))
    return with_changes(section, name=f"{section.name}_{clean(study.unit).replace(' ', '_')}", title=unit)


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
