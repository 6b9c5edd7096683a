"""Several units side by side: each one's verdicts at a glance, and where the next ride of each will read."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.charts.building import BIAS, estimate_points, zero_level
from wattwitness.model.chart import Axis, Chart, Panel, Role
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import CorrectionModel, Study
from wattwitness.sections.over_rides import change
from wattwitness.sections.over_rides.verdict import WORDS
from wattwitness.words.estimates import interval_cell, value_cell, with_interval
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import ABSENT, number, typeset

NAME = "side_by_side"
TITLE = "The units side by side"


def build(studies: Sequence[Study]) -> Section:
    """A table of all, then two sentences on each, then the picture."""
    table = Table(
        caption="Verdicts and figures",
        columns=(
            Column(heading="unit", numeric=False),
            Column(heading="rides"),
            Column(heading="bias", unit="%"),
            Column(heading="next ride", unit="%"),
            Column(heading="right on average", numeric=False),
            Column(heading="same every day", numeric=False),
            Column(heading="free from faults", numeric=False),
            Column(heading="after correction", unit="%"),
            Column(heading="before and after", numeric=False),
        ),
        rows=tuple(_row(study) for study in studies),
    )
    said = [Paragraph(text=f"{sentence_start(clean(study.unit))}: {typeset(_in_short(study))}") for study in studies]
    lead = Paragraph(text=f"{number(len(studies), 0)} units, each judged on rides of its own.", tone=Tone.HEADLINE)
    return Section(name=NAME, title=TITLE, blocks=(lead, *said, _picture(studies), table))


def _row(study: Study) -> tuple[str, ...]:
    found, verdicts = study.consistency.standardised, study.verdicts
    correction = study.correction
    left = ABSENT if correction.error_pct is None else number(correction.error_pct, 1)
    if correction.best is CorrectionModel.NONE:
        left = "none needed" if correction.correctable else "cannot"
    elif not correction.correctable and correction.best is not None:
        left = "cannot"
    return (
        clean(study.unit),
        number(found.rides, 0),
        value_cell(found.mean_bias_pct),
        interval_cell(found.next_ride_pct),
        WORDS[verdicts.trueness.verdict],
        WORDS[verdicts.consistency.verdict],
        WORDS[verdicts.faults.verdict],
        left,
        ABSENT if study.before_after is None else change.WORDS[study.before_after.finding],
    )


def _in_short(study: Study) -> str:
    parts = [study.consistency.says, study.correction.says]
    if study.before_after is not None:
        parts.append(study.before_after.says)
    return " ".join(parts)


def _picture(studies: Sequence[Study]) -> Chart:
    rows = [
        (clean(study.unit), study.consistency.standardised.next_ride_pct)
        for study in studies
        if study.consistency.standardised.next_ride_pct.assessed
    ]
    ticks = tuple((float(place), f"{name}: {with_interval(found)}") for place, (name, found) in enumerate(rows))
    points = (estimate_points(name, Role.EXPECTED, [float(place)], [found]) for place, (name, found) in enumerate(rows))
    return Chart(
        name=NAME,
        title="Where the next ride of each will read",
        caption="Points: the mean bias over rides. Bars: where one more ride at equal power and cadence will read.",
        alt="; ".join(f"{name}: {with_interval(found)}" for name, found in rows),
        x_axis=Axis(quantity="unit", unit="", ticks=ticks),
        panels=(Panel(y_axis=BIAS, marks=(zero_level(), *points)),) if rows else (),
        sideways=True,
        empty="" if rows else "No unit has rides enough to foretell another.",
    )
