"""The clock along the ride: the offset each window found, and the line and steps fitted through them."""

from __future__ import annotations

import itertools

import numpy as np

from wattwitness.charts.building import ELAPSED, without_data
from wattwitness.model.chart import Axis, Chart, Line, Panel, Points, Role, Span
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import counted
from wattwitness.words.numbers import number, quantity, typeset

NAME = "clock_windows"
TITLE = "The two clocks along the ride"
STRAY = 4.0
"""Spreads of the middle half of the windows, beyond it, past which a window is not drawn."""

LEAST_SPREAD_S = 0.02
OFFSET = Axis(quantity="offset beyond that at mid-ride", unit="s")


def build(pair: PairComparison) -> Chart:
    """Window offsets and the fitted clock, both relative to the offset at the middle of the reference's ride."""
    clock = pair.clock
    middle_s = clock.offset_s.value
    found = np.isfinite(clock.windows.offset_s)
    if middle_s is None or not np.any(found):
        return without_data(NAME, TITLE, ELAPSED, typeset(clock.reason) or "no window gave an offset")
    none = np.full(int(found.sum()), np.nan)
    windows = Points(
        name="offset found in a window",
        role=Role.UNIT,
        x=clock.windows.at_s[found],
        y=clock.windows.offset_s[found] - middle_s,
        low=none,
        high=none,
    )
    spans = tuple(
        Span(name="jump, when", role=Role.FAULT, start=low, end=high)
        for low, high in ((jump.at_s.low, jump.at_s.high) for jump in clock.jumps)
        if low is not None and high is not None and np.isfinite(low) and np.isfinite(high)
    )
    line = _fitted(clock, pair.reference.duration_s)
    seen = _seen(windows, line)
    outside = 0 if seen is None else int(((windows.y < seen[0]) | (windows.y > seen[1])).sum())
    caption = "A slope is drift: one clock runs faster. A step is a pause that only one recorder took."
    if outside:
        caption += f" {counted(outside, 'window')} of {windows.y.size} found an offset beyond what is drawn."
    return Chart(
        name=NAME,
        title=TITLE,
        caption=caption,
        alt=(
            f"Offset between the clocks in {counted(int(found.sum()), 'window')}, "
            f"with {counted(len(clock.jumps), 'jump')} and a drift of "
            f"{quantity(clock.drift_ppm.value, 'ppm', 0, signed=True)}; the windows lie within "
            f"{number(float(np.ptp(clock.windows.offset_s[found])), 2)} s of one another."
        ),
        x_axis=ELAPSED,
        panels=(Panel(y_axis=OFFSET, marks=(*spans, *((line,) if line else ()), windows), y_range=seen),),
        time_axis=True,
    )


def _seen(windows: Points, line: Line | None) -> tuple[float, float] | None:
    """What is drawn where a stray window would press all others flat: the fitted clock and the bulk of the windows.

    ``None`` where nothing strays so far.
    """
    fitted = np.empty(0) if line is None else line.y[np.isfinite(line.y)]
    near, far = np.quantile(windows.y, [0.25, 0.75])
    room = STRAY * max(float(far - near), LEAST_SPREAD_S)
    low = min(float(near) - room, fitted.min(initial=0.0))
    high = max(float(far) + room, fitted.max(initial=0.0))
    if windows.y.min() >= low and windows.y.max() <= high:
        return None
    return float(low), float(high)


def _fitted(clock: ClockFit, duration_s: float) -> Line | None:
    """The fitted offset relative to mid-ride: drift about the middle, and every step on its side of it."""
    if not clock.status.usable:
        return None
    drift = (clock.drift_ppm.value or 0.0) * 1e-6
    jumps = [(jump.at_s.value, jump.step_s.value) for jump in clock.jumps]
    known = sorted((at_s, step_s) for at_s, step_s in jumps if at_s is not None and step_s is not None)
    edges = sorted({0.0, duration_s, *(min(max(at_s, 0.0), duration_s) for at_s, _ in known)})
    x: list[float] = []
    y: list[float] = []
    before_middle = sum(step_s for at_s, step_s in known if at_s <= duration_s / 2)
    for start_s, end_s in itertools.pairwise(edges):
        steps = sum(step_s for at_s, step_s in known if at_s <= start_s) - before_middle
        x += [start_s, end_s, end_s]
        y += [steps + drift * (start_s - duration_s / 2), steps + drift * (end_s - duration_s / 2), np.nan]
    return Line(name="fitted clock", role=Role.EXPECTED, x=np.array(x), y=np.array(y))
