"""Best mean powers over durations: each meter's own best, and the unit in the reference's best window."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import DIFFERENCE, POWER, without_data, zero_level
from wattwitness.model.agreement import BestMean
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role, Scale
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import number, short_duration

NAME = "best_means"
TITLE = "Best mean powers"
TICKS_S = (1, 5, 15, 60, 300, 1200, 3600)


def build(pair: PairComparison) -> Chart:
    """Power over duration, and the unit's difference beneath; durations on a logarithmic axis."""
    bests = pair.best_means
    seconds = np.array([best.duration_s for best in bests], dtype=float)
    ticks = tuple((float(tick), short_duration(tick)) for tick in TICKS_S if not seconds.size or tick <= seconds.max())
    axis = Axis(quantity="duration", unit="s or min", scale=Scale.LOGARITHMIC, ticks=ticks)
    reference_w, unit_w, same_w, through_w = (
        _column(bests, name) for name in ("reference_w", "unit_w", "same_window_unit_w", "reference_through_response_w")
    )
    if not np.any(np.isfinite(reference_w)) and not np.any(np.isfinite(unit_w)):
        slug = pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, axis, because(slug) if slug else "no stretch of power was without a gap")
    reference, unit = pair_names(pair)
    power = Panel(
        y_axis=POWER,
        marks=(
            Line(name=reference, role=Role.REFERENCE, x=seconds, y=reference_w),
            Line(name=f"{unit}, own best", role=Role.UNIT, x=seconds, y=unit_w),
        ),
        height_share=1.6,
    )
    own, same = _percent_over(unit_w, reference_w), _percent_over(same_w, through_w)
    difference = Panel(
        y_axis=DIFFERENCE,
        marks=(
            zero_level(),
            Line(name="own best against own best", role=Role.UNIT, x=seconds, y=own),
            Line(name="same window, response allowed for", role=Role.OTHER, x=seconds, y=same),
        ),
    )
    drawn = bool(np.any(np.isfinite(own)) or np.any(np.isfinite(same)))
    return Chart(
        name=NAME,
        title=TITLE,
        caption="A display that averages shows short peaks too low; the second line beneath allows for that.",
        alt=f"Best mean power by duration. {_in_words(bests, reference, unit)}",
        x_axis=axis,
        panels=(power, difference) if drawn else (power,),
    )


def _column(bests: tuple[BestMean, ...], name: str) -> FloatArray:
    values = [getattr(best, name) for best in bests]
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _percent_over(values: FloatArray, base: FloatArray) -> FloatArray:
    """100·(values/base − 1); NaN where the base is not positive."""
    positive = np.where(base > 0, base, np.nan)
    return np.asarray(100 * (values / positive - 1))


def _in_words(bests: tuple[BestMean, ...], reference: str, unit: str) -> str:
    parts = [
        f"{short_duration(best.duration_s)}: {reference} {number(best.reference_w, 0)} W, "
        f"{unit} {number(best.unit_w, 0)} W"
        for best in bests
        if best.reference_w is not None and best.unit_w is not None
    ]
    return "; ".join(parts) + "." if parts else "No duration was free of gaps on both."
