"""Minutes in each zone: truly ridden, as the unit showed them, and as a perfect unit with its averaging would have."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import without_data
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Panel, Points, Role
from wattwitness.model.rider import ZonesRidden
from wattwitness.words.names import clean
from wattwitness.words.numbers import NBSP, number

NAME = "zones"
TITLE = "Minutes in each zone"
LONGEST = 8
"""Letters of a zone's name that have room under it on a phone; the table has it whole."""

ZONE = Axis(quantity="zone", unit="")
MINUTES = Axis(quantity="time in the zone", unit="min")
APART = 0.22
"""How far the three marks of a zone stand apart, as a share of the room that a zone has."""


def build(ridden: ZonesRidden | None) -> Chart:
    """Three marks for each zone."""
    if ridden is None or ridden.agreeing is None:
        return without_data(NAME, TITLE, ZONE, "no ride shows which zones were ridden")
    shown, perfect = (np.array(table, dtype=np.float64) / 60 for table in (ridden.shown, ridden.perfect))
    true, of_unit, of_perfect = shown.sum(axis=1), shown.sum(axis=0), perfect.sum(axis=0)
    places = np.arange(true.size, dtype=np.float64)
    names = [clean(name, longest=LONGEST) or "unnamed" for name in ridden.zones.names]
    ticks = tuple((float(place), name) for place, name in enumerate(names))
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            "Zones are entered on means of 30 s. Where the unit’s mark stands apart from both others, its error has "
            "put minutes into another zone; where only the perfect unit’s agrees with it, the averaging has."
        ),
        alt=(
            f"Minutes in {true.size} zones by the reference, by the unit and by a perfect unit. The zone shown was the "
            f"true one for {number(100 * ridden.agreeing, 0)}{NBSP}% of the time."
        ),
        x_axis=Axis(quantity="zone", unit="", ticks=ticks),
        panels=(
            Panel(
                y_axis=MINUTES,
                marks=(
                    _marks("truly ridden", Role.REFERENCE, places - APART, true),
                    _marks("a perfect unit would show", Role.EXPECTED, places, of_perfect),
                    _marks("the unit showed", Role.UNIT, places + APART, of_unit),
                ),
            ),
        ),
        x_range=(-0.6, true.size - 0.4),
    )


def _marks(name: str, role: Role, places: FloatArray, minutes: FloatArray) -> Points:
    return Points(name=name, role=role, x=places, y=minutes, low=minutes, high=minutes)
