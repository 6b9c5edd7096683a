"""Torque against torque: the unit's over the reference's, with the line of no difference and the fitted one."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import without_data
from wattwitness.model.anatomy import Anatomy
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Line, Panel, Points, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, with_interval
from wattwitness.words.names import pair_names

NAME = "torque_against_torque"
TITLE = "Torque against torque"
X_AXIS = Axis(quantity="reference torque, mean at the crank", unit="N·m")


def build(pair: PairComparison) -> Chart:
    """Both lines on one panel, and on the other what is left of the difference between them, large enough to see."""
    anatomy = pair.anatomy
    if anatomy is None or not anatomy.torque_nm.size:
        slug = anatomy.zero_nm.not_assessed if anatomy is not None else pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, X_AXIS, because(slug) if slug else "the torque is not known")
    reference, unit = anatomy.torque_nm[:, 0], anatomy.torque_nm[:, 1]
    ends = np.array([0.0, float(reference.max()) * 1.05])
    fitted = _fitted(anatomy, ends)
    unit_name = pair_names(pair)[1]
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            "Points are parts of the ride sorted by torque. A zero lifts the whole line, a gain tilts it; below, the "
            "same as a difference."
        ),
        alt=(
            f"{unit_name}: zero {with_interval(anatomy.zero_nm, 2)}, gain {with_interval(anatomy.gain_pct, 2)}, over "
            f"{reference.size} parts of the ride from {reference.min():.0f} to {reference.max():.0f} N·m."
        ),
        x_axis=X_AXIS,
        panels=(
            Panel(
                y_axis=Axis(quantity="unit torque", unit="N·m"),
                marks=(
                    Line(name="no difference", role=Role.LIMIT, x=ends, y=ends),
                    *(() if fitted is None else (Line(name="fitted line", role=Role.EXPECTED, x=ends, y=fitted),)),
                    _points("part of the ride", reference, unit),
                ),
                height_share=1.4,
            ),
            Panel(
                y_axis=Axis(quantity="unit minus reference", unit="N·m"),
                marks=(
                    Line(name="no difference", role=Role.LIMIT, x=ends, y=np.zeros(2)),
                    *(
                        ()
                        if fitted is None
                        else (Line(name="fitted line", role=Role.EXPECTED, x=ends, y=fitted - ends),)
                    ),
                    _points("part of the ride", reference, unit - reference),
                ),
            ),
        ),
    )


def _fitted(anatomy: Anatomy, reference: FloatArray) -> FloatArray | None:
    """The unit's torque by the fitted line; ``None`` where there is none."""
    if anatomy.zero_nm.value is None or anatomy.gain_pct.value is None:
        return None
    return anatomy.zero_nm.value + (1 + anatomy.gain_pct.value / 100) * reference


def _points(name: str, x: FloatArray, y: FloatArray) -> Points:
    none = np.full(x.size, np.nan)
    return Points(name=name, role=Role.UNIT, x=x, y=y, low=none, high=none)
