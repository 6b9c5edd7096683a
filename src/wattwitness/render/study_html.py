"""Several units as one page that needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace as with_changes
from pathlib import Path

from wattwitness.model.section import Section
from wattwitness.model.study import Study
from wattwitness.render.html import page_of
from wattwitness.render.saving import save
from wattwitness.sections.over_rides import side_by_side, verdict
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean, sentence_start


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
