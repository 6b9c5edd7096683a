"""Before and after: what a repair or new firmware did."""

from __future__ import annotations

from dataclasses import replace

from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import ChangeFinding, Study
from wattwitness.words.estimates import with_interval
from wattwitness.words.names import clean
from wattwitness.words.numbers import ABSENT, number, typeset

NAME = "change"
TITLE = "Before and after"
WORDS = {
    ChangeFinding.FIXED: "fixed",
    ChangeFinding.IMPROVED: "improved",
    ChangeFinding.UNCHANGED: "unchanged",
    ChangeFinding.WORSE: "worse",
    ChangeFinding.NOT_SHOWN: "not shown",
}


def build(study: Study) -> Section | None:
    """Nothing where no groups were named."""
    found = study.before_after
    if found is None:
        return None
    rows = [(aspect.name, WORDS[aspect.finding], typeset(aspect.says)) for aspect in found.aspects]
    points = "point" if found.margin_pct == 1 else "points"
    figures = (
        ("change of the bias, percentage points", with_interval(replace(found.bias_change_pct, unit="1"), signed=True)),
        ("variance between rides, after over before", with_interval(found.variance_ratio, 2, signed=False)),
        ("faults an hour, after over before", with_interval(found.fault_rate_ratio, 2, signed=False)),
        ("chance of so great a change of faults, rides shuffled", number(found.fault_chance, 3)),
        (f"bias shown not to have changed by {found.margin_pct:g} {points}", _yes(found.equivalent)),
    )
    return Section(
        name=NAME,
        title=f"{TITLE}: {clean(found.before)} and {clean(found.after)}",
        blocks=(
            Paragraph(text=typeset(found.says), tone=Tone.HEADLINE),
            Table(
                caption="What changed",
                columns=(
                    Column(heading="of", numeric=False),
                    Column(heading="finding", numeric=False),
                    Column(heading="because", numeric=False),
                ),
                rows=tuple(rows),
            ),
            Table(
                caption="In numbers",
                columns=(Column(heading="figure", numeric=False), Column(heading="value", numeric=False)),
                rows=figures,
            ),
        ),
    )


def _yes(answer: bool | None) -> str:
    return ABSENT if answer is None else "yes" if answer else "no"
