"""The bias of a stretch of a ride that was compared, in numbers and in a sentence."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.chosen import ChosenStretch, chosen_stretch
from wattwitness.clock.response import compared_unit_power
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, counted, reads
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import clock_time, quantity


def stretch_of_pair(pair: PairComparison, from_s: float, to_s: float) -> ChosenStretch:
    """Measure the seconds from ``from_s`` until before ``to_s``, after the reference's first sample.

    Cadence is the reference's, else the unit's. Raises ValueError where the stretch does not end after it begins.
    """
    series = pair.series
    cadence_rpm = series.reference_rpm if bool(np.isfinite(series.reference_rpm).any()) else series.unit_rpm
    level = pair.overall.bias_pct.level
    compared_w = compared_unit_power(series.unit_w, pair.response)
    return chosen_stretch(
        series.time_s, series.expected_w, compared_w, cadence_rpm, from_s=from_s, to_s=to_s, level=level
    )


def stretch_sentence(pair: PairComparison, stretch: ChosenStretch) -> str:
    """Say what the stretch shows, and why there is no interval where there is none."""
    where = f"From {clock_time(stretch.from_s)} to {clock_time(stretch.to_s)}"
    unit = pair_names(pair)[1]
    if not pair.clock.status.usable:
        return f"Nothing can be said of a stretch of {unit}, for it is on no one clock with the reference."
    if not stretch.seconds:
        return f"{where} there is no second in which both meters show power."
    shown = f"over {counted(stretch.seconds, 'second')} that both recorded"
    if stretch.bias_pct.assessed:
        return f"{where} {unit} {reads(stretch.bias_pct, witness='this stretch')}, {shown}."
    means = f"{quantity(stretch.unit_w, 'W', 0)} where {quantity(stretch.reference_w, 'W', 0)} are expected"
    why = because(stretch.bias_pct.not_assessed or "unknown")
    return f"{where} {unit} shows {means}, {shown}; no bias is given: {why}."
