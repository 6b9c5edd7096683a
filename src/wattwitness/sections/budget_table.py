"""An uncertainty budget as tables: what each part comes to, and how each is known."""

from __future__ import annotations

from wattwitness.model.budget import Budget, Contribution
from wattwitness.model.section import Column, Table
from wattwitness.words.numbers import NBSP, number, size_words

MANY_DEGREES = 1000


def budget_tables(budget: Budget, caption: str) -> tuple[Table, Table]:
    """Contributions, largest first, with their sum; then, folded, the spread, effect and source of each."""
    ordered = sorted(budget.contributions, key=lambda part: -part.contribution_pct)
    sums = Table(
        caption=caption,
        columns=(
            Column(heading="what", numeric=False),
            Column(heading="standard uncertainty"),
            Column(heading="contribution", unit="%"),
            Column(heading="known", numeric=False),
        ),
        rows=(*(_sum_row(part) for part in ordered), ("together", "", size_words(budget.standard_pct), "")),
    )
    details = Table(
        caption=f"{caption}: how each is known",
        columns=(
            Column(heading="what", numeric=False),
            Column(heading="spread", numeric=False),
            Column(heading="effect", unit="% per unit"),
            Column(heading="degrees of freedom"),
            Column(heading="the same every ride", numeric=False),
            Column(heading="from", numeric=False),
        ),
        rows=(
            *(_detail_row(part) for part in ordered),
            ("together", "", "", degrees_words(budget.degrees), "", ""),
        ),
        folded=True,
    )
    return sums, details


def degrees_words(degrees: float) -> str:
    """Degrees of freedom; beyond a thousand they make no difference."""
    return "unlimited" if degrees > MANY_DEGREES else number(degrees, 0)


def _sum_row(part: Contribution) -> tuple[str, ...]:
    return (
        part.title,
        f"{size_words(part.standard_uncertainty)}{NBSP}{part.unit}",
        size_words(part.contribution_pct),
        f"{part.origin.value} (default)" if part.is_default else part.origin.value,
    )


def _detail_row(part: Contribution) -> tuple[str, ...]:
    return (
        part.title,
        part.distribution.value,
        number(part.sensitivity, 2),
        degrees_words(part.degrees),
        "yes" if part.common else "no",
        part.source,
    )
