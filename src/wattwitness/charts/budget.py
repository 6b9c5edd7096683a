"""What makes the bias uncertain, as bars: each contribution, and all together."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import without_data
from wattwitness.model.budget import Budget, Contribution
from wattwitness.model.chart import Axis, Chart, Panel, Points, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import NBSP, size_words

NAME = "budget_bars"
TITLE = "What makes the bias uncertain"
CONTRIBUTION = Axis(quantity="standard uncertainty", unit="percentage points")
WHAT = Axis(quantity="contribution", unit="")


def build(pair: PairComparison) -> Chart:
    """A bar for each contribution, largest first, and one for all together."""
    budget = pair.budget
    if budget is None or not budget.contributions:
        return without_data(NAME, TITLE, WHAT, "the bias was not assessed, so nothing can be said of its uncertainty")
    whose = "Diamonds are the same in every ride with this reference, circles are this ride’s own."
    return bars(budget, TITLE, of=f"the bias of {pair_names(pair)[1]}", what="the bias", whose=whose)


def bars(budget: Budget, title: str, *, of: str, what: str, whose: str) -> Chart:
    """A budget with at least one contribution as bars.

    ``of`` says in full and ``what`` in short what is uncertain, ``whose`` what diamonds and circles are.
    """
    ordered = sorted(budget.contributions, key=lambda part: -part.contribution_pct)
    rows = [(part.title, part.contribution_pct, _role(part)) for part in ordered]
    rows.append(("together", budget.standard_pct, Role.OTHER))
    ticks = tuple((float(place), f"{title}: {size_words(size)}{NBSP}%") for place, (title, size, _) in enumerate(rows))
    largest = ordered[0]
    return Chart(
        name=NAME,
        title=title,
        caption=(
            f"Standard uncertainties in percentage points of {what}. They add as squares, so the largest decides. "
            f"{whose}"
        ),
        alt=(
            f"Uncertainty of {of} by contribution. The largest is {largest.title}, "
            f"{size_words(largest.contribution_pct)} %; together {size_words(budget.standard_pct)} %."
        ),
        x_axis=Axis(quantity="contribution", unit="", ticks=ticks),
        panels=(
            Panel(
                y_axis=CONTRIBUTION,
                marks=tuple(_bar(title, size, role, place) for place, (title, size, role) in enumerate(rows)),
                y_range=(0.0, 1.05 * max(budget.standard_pct, 1e-3)),
            ),
        ),
        sideways=True,
    )


def _role(part: Contribution) -> Role:
    return Role.EXPECTED if part.common else Role.UNIT


def _bar(title: str, size: float, role: Role, place: int) -> Points:
    """A bar from zero to the contribution, a mark at its end."""
    return Points(
        name=title,
        role=role,
        x=np.array([float(place)]),
        y=np.array([size]),
        low=np.array([0.0]),
        high=np.array([size]),
    )
