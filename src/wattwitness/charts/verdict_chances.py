"""How often a study would come to each verdict, by the unit's true bias."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import without_data
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role, Span
from wattwitness.model.plan import Prospects
from wattwitness.words.numbers import NBSP, quantity

NAME = "verdict_chances"
TITLE = "What the study would say of a unit"
TRUE_BIAS = Axis(quantity="size of the true bias", unit="%")
CHANCE = Axis(quantity="chance of the verdict", unit="%")


def build(prospects: Prospects) -> Chart:
    """One line for each verdict."""
    if not prospects.by_bias:
        return without_data(NAME, TITLE, TRUE_BIAS, "no limit is claimed")
    rides = prospects.by_bias[0].rides
    x = np.array([0.0 if one.true_bias_pct is None else one.true_bias_pct for one in prospects.by_bias])
    parts = (
        ("conforms", Role.REFERENCE, [one.conforms for one in prospects.by_bias]),
        ("does not conform", Role.UNIT, [one.does_not_conform for one in prospects.by_bias]),
        ("undecided", Role.EXPECTED, [one.undecided for one in prospects.by_bias]),
    )
    limit = f"within the claimed ±{prospects.limit_pct:.12g}{NBSP}%"
    right = prospects.by_bias[0]
    return Chart(
        name=NAME,
        title=TITLE,
        caption=f"After {rides} rides; the table has the numbers. Units right of the shaded stretch break the claim.",
        alt=(
            f"After {rides} rides a unit without bias is found to conform with a chance of "
            f"{quantity(100 * right.conforms, '%', 0)}, undecided with {quantity(100 * right.undecided, '%', 0)}; "
            f"one of {quantity(float(x[-1]), '%')} does not conform with a chance of "
            f"{quantity(100 * prospects.by_bias[-1].does_not_conform, '%', 0)}."
        ),
        x_axis=TRUE_BIAS,
        panels=(
            Panel(
                y_axis=CHANCE,
                marks=(
                    Span(name=limit, role=Role.LIMIT, start=0.0, end=prospects.limit_pct),
                    *(Line(name=name, role=role, x=x, y=100 * np.array(y)) for name, role, y in parts),
                ),
                y_range=(0.0, 100.0),
            ),
        ),
    )
