"""One answer as it is published: its sections under a title, with what a reader needs to know whose and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wattwitness.model.alone import AloneReport
from wattwitness.model.comparison import Comparison
from wattwitness.model.publication import Publication
from wattwitness.model.section import Section, Table
from wattwitness.model.study import Study
from wattwitness.sections import small_print
from wattwitness.sections.alone import alone_sections
from wattwitness.sections.over_rides import method, side_by_side, verdict
from wattwitness.sections.over_rides.registry import study_sections
from wattwitness.sections.registry import sections_of
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean, pair_names, recording_name, sentence_start
from wattwitness.words.numbers import long_duration, percent_level


def of_comparison(comparison: Comparison) -> Publication:
    """A comparison of two recordings or more."""
    reference, unit = pair_names(comparison.pairs[0])
    others = len(comparison.pairs)
    subject = unit if others == 1 else f"{others} units"
    level = percent_level(comparison.settings.level)
    first = comparison.pairs[0].reference
    date, length = first.first_sample_utc[:10], f"{long_duration(first.duration_s)} recorded by the reference"
    return Publication(
        title=sentence_start(f"{subject} against {reference}"),
        kind="comparison",
        when=f"Ride of {date}, {length}" if date else length,
        about=sentence_start(f"{subject} against {reference}; intervals {level}"),
        version=comparison.version,
        sections=sections_of(comparison),
        small_print=small_print.of_comparison(comparison),
        data_mark=small_print.data_mark([first.source.sha256, *(pair.unit.source.sha256 for pair in comparison.pairs)]),
    )


def of_recording_alone(report: AloneReport) -> Publication:
    """One recording with no second meter."""
    recording = report.recording
    name = recording_name(recording)
    date, length = recording.first_sample_utc[:10], long_duration(recording.duration_s)
    return Publication(
        title=sentence_start(f"{name}, by itself"),
        kind="one recording alone",
        when=f"Ride of {date}, {length} recorded" if date else f"{length} recorded",
        about=sentence_start(f"{name}, by itself"),
        version=report.version,
        sections=alone_sections(report),
        small_print=small_print.of_alone(report),
        data_mark=small_print.data_mark([recording.source.sha256]),
    )


def of_study(study: Study, unused: Sequence[tuple[str, str]] = ()) -> Publication:
    """One unit over many rides; ``unused`` are files that belong to none, with the reason."""
    days = sorted({ride.day for ride in study.rides if ride.day})
    rides = counted(len(study.rides), "ride")
    title = f"{sentence_start(clean(study.unit))} over many rides"
    return Publication(
        title=title,
        kind="study",
        when=rides + (f", {days[0]} to {days[-1]}" if days else ""),
        about=f"{title}; {rides}",
        version=study.version,
        sections=study_sections(study, unused),
        small_print=small_print.of_study(study, unused),
        data_mark=small_print.data_mark([sha256 for ride in study.rides for sha256 in ride.source_sha256]),
    )


def of_studies(studies: Sequence[Study]) -> Publication:
    """Several units side by side, each under its own name; at least one."""
    rides = counted(sum(len(study.rides) for study in studies), "ride")
    title = f"{counted(len(studies), 'unit')} side by side"
    return Publication(
        title=title,
        kind="studies",
        when=rides,
        about=f"{title}; {rides}",
        version=studies[0].version,
        sections=(
            side_by_side.build(studies),
            *(_headed(verdict.build(study), study, place) for place, study in enumerate(studies, start=1)),
            *(_headed(method.build(study, ()), study, place) for place, study in enumerate(studies, start=1)),
        ),
        small_print=small_print.of_studies(studies),
        data_mark=small_print.data_mark(
            [sha256 for study in studies for ride in study.rides for sha256 in ride.source_sha256]
        ),
    )


def _headed(section: Section, study: Study, place: int) -> Section:
    """A section of one study among others: numbered, with the unit in its title."""
    unit = sentence_start(clean(study.unit))
    title = unit if section.name == verdict.NAME else f"{unit}: {_inside(section.title)}"
    blocks = tuple(
        replace(block, caption=f"{unit}: {_inside(block.caption)}") if isinstance(block, Table) else block
        for block in section.blocks
    )
    return replace(section, name=f"{section.name}_{place}", title=title, blocks=blocks)


def _inside(text: str) -> str:
    """A title that goes on after a colon; what is written in capitals stays so."""
    return text if text[1:2].isupper() else f"{text[:1].lower()}{text[1:]}"
