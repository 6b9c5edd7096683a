"""The steps of a planned ride along its minutes: power above, cadence below."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import ELAPSED, without_data
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Level, Line, Panel, Role
from wattwitness.model.plan import RidePlan
from wattwitness.words.numbers import quantity

NAME = "plan_steps"
POWER, CADENCE = Axis(quantity="power", unit="W"), Axis(quantity="cadence", unit="rpm")
ROOM_W, ROOM_RPM = 20.0, 10.0


def build(ride: RidePlan, threshold_w: float) -> Chart:
    """Targets as stairs, with the threshold that they stay under."""
    title = f"What to ride: {ride.name}"
    name = f"{NAME}_{ride.name.replace(' ', '_')}"
    if not ride.steps:
        return without_data(name, title, ELAPSED, "the plan has no steps")
    ends = np.cumsum([step.seconds for step in ride.steps])
    starts = ends - np.array([step.seconds for step in ride.steps])
    power = _stairs([(step.power_w, step.power_w if step.end_w is None else step.end_w) for step in ride.steps])
    cadence = _stairs([(step.cadence_rpm, step.cadence_rpm) for step in ride.steps])
    time_s = np.column_stack([starts, ends]).ravel()
    level = Level(name="threshold power", role=Role.LIMIT, y=threshold_w, low=threshold_w, high=threshold_w)
    return Chart(
        name=name,
        title=title,
        caption="Target power and cadence of each step. Between steps, change over within a few seconds.",
        alt=(
            f"{len(ride.steps)} steps from {quantity(float(power.min()), 'W', 0)} to "
            f"{quantity(float(power.max()), 'W', 0)} and from {quantity(float(cadence.min()), 'rpm', 0)} to "
            f"{quantity(float(cadence.max()), 'rpm', 0)} in mixed order; the table of steps has them one by one."
        ),
        x_axis=ELAPSED,
        panels=(
            Panel(
                y_axis=POWER,
                marks=(level, Line(name="target power", role=Role.REFERENCE, x=time_s, y=power)),
                y_range=(0.0, max(float(power.max()), threshold_w) + ROOM_W),
            ),
            Panel(
                y_axis=CADENCE,
                marks=(Line(name="target cadence", role=Role.OTHER, x=time_s, y=cadence),),
                y_range=(float(cadence.min()) - ROOM_RPM, float(cadence.max()) + ROOM_RPM),
                height_share=0.6,
            ),
        ),
        time_axis=True,
    )


def _stairs(ends: list[tuple[float, float]]) -> FloatArray:
    return np.array(ends, dtype=np.float64).ravel()
