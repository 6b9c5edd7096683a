"""What makes the bias uncertain: the budget, its bars, and what is not in it."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import budget as budget_chart
from wattwitness.model.budget import Budget
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Paragraph, Section, Tone
from wattwitness.sections.budget_table import budget_tables, degrees_words
from wattwitness.sections.building import Block, Named, for_each_unit, not_assessed_paragraph
from wattwitness.words.numbers import NBSP, number, percent_level, size_words, typeset

NAME = "budget"
TITLE = "What makes the bias uncertain"


def build(comparison: Comparison) -> Section | None:
    """The budget of each unit's bias."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    budget = named.pair.budget
    if budget is None:
        yield not_assessed_paragraph(named, "bias_pct", "The uncertainty", named.pair.overall.bias_pct)
        return
    yield Paragraph(text=_sentence(named, budget))
    yield budget_chart.build(named.pair)
    yield from budget_tables(budget, "The budget, in percentage points of the bias")
    yield Paragraph(text=_combined(budget), tone=Tone.NOTE)
    for note in budget.notes:
        yield Paragraph(text=typeset(note), tone=Tone.NOTE)


def _sentence(named: Named, budget: Budget) -> str:
    largest = max(budget.contributions, key=lambda part: part.contribution_pct)
    own = max(budget.standard_pct**2 - budget.common_pct**2, 0.0) ** 0.5
    defaults = [part for part in budget.contributions if part.is_default]
    text = (
        f"The bias of {named.unit} is known within ±{size_words(budget.expanded_pct)}{NBSP}% "
        f"({percent_level(budget.level)}), of which {largest.title} makes most. What is the same in every ride with "
        f"this reference comes to {size_words(budget.common_pct)}{NBSP}%, which more rides do not shrink; what is new "
        f"in each ride to {size_words(own)}{NBSP}%."
    )
    if defaults:
        text += f" Nobody stated {_listed([part.title for part in defaults])}: a default stands in."
    return text


def _combined(budget: Budget) -> str:
    low, high = budget.monte_carlo_low_pct, budget.monte_carlo_high_pct
    return (
        f"Combined as the root of the sum of squares (JCGM 100), {size_words(budget.standard_pct)}{NBSP}%, with "
        f"{degrees_words(budget.degrees)} effective degrees of freedom and a coverage factor of "
        f"{number(budget.coverage_factor, 2)}. By drawing from the distributions (JCGM 101) the deviation lies between "
        f"{number(low, 2)} and {number(high, 2)}{NBSP}%."
    )


def _listed(items: list[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
