"""Bias along the ride: each block and both halves, with their intervals."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import BIAS, ELAPSED, estimate_points, without_data, zero_level
from wattwitness.model.agreement import PeriodBias
from wattwitness.model.chart import Chart, Line, Panel, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, reads_briefly
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import stretch

NAME = "bias_by_block"
TITLE = "Bias along the ride"


def build(pair: PairComparison) -> Chart:
    """Blocks as points at their middle, halves as level lines over their stretch."""
    blocks = [block for block in pair.blocks if block.bias_pct.assessed]
    halves = [half for half in pair.halves if half.bias_pct.assessed]
    if not blocks and not halves:
        slug = pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, ELAPSED, because(slug) if slug else "the ride is too short for blocks")
    points = estimate_points(
        "block, with interval",
        Role.UNIT,
        [(block.start_s + block.end_s) / 2 for block in blocks],
        [block.bias_pct for block in blocks],
    )
    lines = (_half_line(halves),) if halves else ()
    words = "; ".join(
        f"{stretch(part.start_s, part.end_s)}: {reads_briefly(part.bias_pct)}" for part in halves + blocks
    )
    return Chart(
        name=NAME,
        title=TITLE,
        caption="Points are blocks with their intervals; the dashed lines are the two halves.",
        alt=f"{pair_names(pair)[1]} along the ride. {words}.",
        x_axis=ELAPSED,
        panels=(Panel(y_axis=BIAS, marks=(zero_level(), *lines, points)),),
        time_axis=True,
    )


def _half_line(halves: list[PeriodBias]) -> Line:
    """Both halves as one line, broken between them."""
    x: list[float] = []
    y: list[float] = []
    for half in halves:
        value = half.bias_pct.value
        x += [half.start_s, half.end_s, half.end_s]
        y += [np.nan if value is None else value] * 2 + [np.nan]
    return Line(name="half of the ride", role=Role.EXPECTED, x=np.array(x), y=np.array(y))
