"""At which minutes of the rides the unit's faults begin, over all rides."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import without_data
from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role
from wattwitness.model.episodes import Finding
from wattwitness.model.study import Study
from wattwitness.words.estimates import counted

NAME = "episodes_by_minute"
TITLE = "When episodes begin"
MINUTES = Axis(quantity="time into the ride", unit="min")
SLOT_MIN = 5
BEGUN = Axis(quantity=f"episodes begun in {SLOT_MIN} min, all rides", unit="number")
KINDS = (
    (Finding.UNIT, "unit at fault", Role.FAULT),
    (Finding.UNDETERMINED, "cannot be told whose", Role.UNIT),
)


MANY = "; rides end at different times, so later minutes were ridden less often"
LEAST_SHOWN = 4
"""With fewer the axis would have marks between whole numbers."""


def build(study: Study) -> Chart:
    """Numbers of episodes by slots of five minutes since each ride's start; rides that count and were looked at."""
    looked = [ride for ride in study.rides if ride.counts and ride.faults_looked_for]
    if not looked:
        return without_data(NAME, TITLE, MINUTES, "on no ride could episodes be looked for")
    starts = {
        finding: np.array([one.start_s / 60 for ride in looked for one in ride.episodes if one.finding is finding])
        for finding, _, _ in KINDS
    }
    if not any(minutes.size for minutes in starts.values()):
        return without_data(NAME, TITLE, MINUTES, "no episode of the unit was found on any ride")
    longest_min = max(60 * max(ride.hours for ride in looked), *(m.max() for m in starts.values() if m.size))
    edges = np.arange(0.0, longest_min + 2 * SLOT_MIN, SLOT_MIN)
    shown = [(name, role, _counts(starts[finding], edges)) for finding, name, role in KINDS if starts[finding].size]
    most = max(int(counts.max()) for _, _, counts in shown)
    said = "; ".join(f"{name}: {int(counts.sum())}" for name, _, counts in shown)
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            f"Number of episodes that begin in each {SLOT_MIN} minutes since a ride’s start, over "
            f"{counted(len(looked), 'ride')}{MANY if len(looked) > 1 else ''}."
        ),
        alt=f"Episodes by the minute at which they begin, over {counted(len(looked), 'ride')}. {said}.",
        x_axis=MINUTES,
        panels=(
            Panel(
                y_axis=BEGUN,
                marks=tuple(
                    Line(
                        name=name,
                        role=role,
                        x=np.repeat(edges, 2)[1:-1],
                        y=np.repeat(counts, 2).astype(float),
                        filled=role is Role.FAULT,
                    )
                    for name, role, counts in shown
                ),
                y_range=(0.0, max(most, LEAST_SHOWN) + 0.5),
            ),
        ),
    )


def _counts(minutes: FloatArray, edges: FloatArray) -> IntArray:
    return np.histogram(minutes, edges)[0].astype(np.int64)
