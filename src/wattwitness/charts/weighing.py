"""What known weights show, as drawings: departures from a line by load, and the gain of weighing after weighing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.charts.building import estimate_points, without_data
from wattwitness.model.chart import Axis, Chart, Level, Panel, Points, Role
from wattwitness.model.hanging_weights import Side, SideResult, Weighing
from wattwitness.words.estimates import with_interval
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import NBSP, size_words

DEPARTURES = "departure_by_load"
GAINS = "gain_by_weighing"
LOAD = Axis(quantity="torque hung", unit="N·m")
DEPARTURE = Axis(quantity="reading less line", unit="N·m")
GAIN = Axis(quantity="slope over 1", unit="%")
WHICH = Axis(quantity="weighing", unit="")
SIDES = {
    Side.LEFT: ("left", Role.UNIT),
    Side.RIGHT: ("right", Role.EXPECTED),
    Side.BOTH: ("both together", Role.UNIT),
}

LEAST_NM = 0.01
"""A departure below that is rounding: the finest meters show hundredths of a newton metre."""


def departures(weighing: Weighing) -> Chart:
    """Mean departure of the readings from each side's own line at every load."""
    title = "Departure from a straight line"
    sides = [side for side in weighing.sides if side.loads]
    if not sides:
        return without_data(DEPARTURES, title, LOAD, "no load was read")
    marks: list[Level | Points] = [Level(name="the line", role=Role.LIMIT, y=0.0, low=0.0, high=0.0)]
    for side in sides:
        name, role = SIDES[side.side]
        none = np.full(len(side.loads), np.nan)
        marks.append(
            Points(
                name=name,
                role=role,
                x=np.array([load.torque_nm for load in side.loads]),
                y=np.array([load.departure_nm for load in side.loads]),
                low=none,
                high=none,
            )
        )
    worst = "; ".join(
        f"{SIDES[side.side][0]} {size_words(max(abs(load.departure_nm) for load in side.loads))}{NBSP}N·m"
        for side in sides
    )
    return Chart(
        name=DEPARTURES,
        title=title,
        caption="Each point is the mean of all readings at one load, loading and unloading together.",
        alt=f"{_name(weighing.meter)}: mean departure from a straight line by load; the largest are {worst}.",
        x_axis=LOAD,
        panels=(Panel(y_axis=DEPARTURE, marks=tuple(marks), y_range=_seen_nm(sides)),),
    )


def _seen_nm(sides: Sequence[SideResult]) -> tuple[float, float] | None:
    """What the data need; or a little, where they depart by less than any meter shows."""
    largest = max(abs(load.departure_nm) for side in sides for load in side.loads)
    return None if largest >= LEAST_NM else (-LEAST_NM, LEAST_NM)


def gains(weighings: tuple[Weighing, ...]) -> Chart:
    """The gain of one meter at each of its weighings, with intervals."""
    title = "From weighing to weighing"
    told = [item for item in weighings if item.gain_pct.assessed]
    if not told:
        return without_data(GAINS, title, WHICH, "no weighing gave a slope")
    words = [item.date or clean(item.source) or f"weighing {place}" for place, item in enumerate(told, start=1)]
    ticks = tuple(
        (float(place), f"{word}: {with_interval(item.gain_pct, 2)}")
        for place, (word, item) in enumerate(zip(words, told, strict=True))
    )
    return Chart(
        name=GAINS,
        title=title,
        caption=(
            "Intervals hold all that makes a weighing uncertain, also what was the same each time, such as the masses: "
            "they are wider than what tells a drift."
        ),
        alt=f"{_name(told[0].meter)}, slope over 1 by weighing: {'; '.join(text for _, text in ticks)}.",
        x_axis=Axis(quantity=WHICH.quantity, unit="", ticks=ticks),
        panels=(
            Panel(
                y_axis=GAIN,
                marks=(
                    Level(name="as the weights say", role=Role.LIMIT, y=0.0, low=0.0, high=0.0),
                    *(
                        estimate_points(text, Role.UNIT, [place], [item.gain_pct])
                        for (place, text), item in zip(ticks, told, strict=True)
                    ),
                ),
            ),
        ),
        sideways=True,
    )


def _name(meter: str) -> str:
    return sentence_start(clean(meter) or "the meter")
