"""A meter by itself: what its setup gives reason to think about, and how uncertain it is before any ride."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wattwitness.charts import budget as budget_chart
from wattwitness.model.budget import Budget
from wattwitness.model.recording import Notice, Severity
from wattwitness.model.section import Paragraph, Section, Tone
from wattwitness.sections.budget_table import budget_tables
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import NBSP, percent_level, quantity, size_words, typeset

TITLE = "How uncertain it is"
WHOSE = "Diamonds are the same in every ride with this meter, circles are new in each."
LONGEST_MESSAGE = 500


def findings_section(findings: Sequence[Notice], name: str) -> Section:
    """What was found in a setup, warnings first; that nothing was found is said too."""
    ordered = sorted(findings, key=lambda notice: notice.severity is not Severity.WARNING)
    blocks = [_finding(notice) for notice in ordered]
    nothing = Paragraph(text="Everything that is asked for is on record, and nothing in it speaks against the setup.")
    return Section(name=name, title="What was found in the setup", blocks=tuple(blocks) or (nothing,))


def _finding(notice: Notice) -> Paragraph:
    words = notice.message.removeprefix(f"{notice.about}: ") if notice.about else notice.message
    tone = Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE
    return Paragraph(text=sentence_start(clean(typeset(words), longest=LONGEST_MESSAGE)), tone=tone)


def budget_section(budget: Budget, meter: str, name: str, *, at_w: float, at_rpm: float) -> Section:
    """The budget of a meter that is the reference of a ride at a power and cadence."""
    own = tuple(replace(part, title=part.title.replace("the reference’s", "its")) for part in budget.contributions)
    budget = replace(budget, contributions=own)
    where = f"{quantity(at_w, 'W', 0)} and {quantity(at_rpm, 'rpm', 0)}"
    largest = max(budget.contributions, key=lambda part: part.contribution_pct)
    text = (
        f"As a reference at {where}, {clean(meter) or 'this meter'} is known within "
        f"±{size_words(budget.expanded_pct)}{NBSP}% ({percent_level(budget.level)}), of which {largest.title} makes "
        f"most. {size_words(budget.common_pct)}{NBSP}% of standard uncertainty is the same in every ride, which more "
        "rides do not shrink."
    )
    chart = budget_chart.bars(budget, TITLE, of=clean(meter) or "this meter", what="its power", whose=WHOSE)
    rest = "What a ride adds (its clock, response, length and whole watts) is not in it: it stands with each ride."
    return Section(
        name=name,
        title=TITLE,
        blocks=(
            Paragraph(text=text),
            replace(chart, name=f"{chart.name}_{name}"),
            *budget_tables(budget, f"The budget at {where}, in percentage points"),
            Paragraph(text=rest, tone=Tone.NOTE),
            *(Paragraph(text=typeset(note), tone=Tone.NOTE) for note in budget.notes),
        ),
    )
