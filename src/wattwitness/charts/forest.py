"""Every ride's bias with its interval, the mean over rides, and what the next ride will read."""

from __future__ import annotations

from wattwitness.charts.building import BIAS, estimate_points, without_data
from wattwitness.model.chart import Axis, Chart, Level, Panel, Role
from wattwitness.model.study import RideFigures, Study
from wattwitness.words.estimates import counted, reads_briefly, with_interval
from wattwitness.words.names import clean
from wattwitness.words.numbers import NBSP, quantity

NAME = "forest"
TITLE = "Bias of every ride, and of the next"
LONGEST = 28
"""Letters of a ride's or a group's name that have room on a phone."""

RIDES = Axis(quantity="ride", unit="")


def build(study: Study) -> Chart:
    """One row a ride at one power and cadence, the mean and the next ride; then rides that are not in the mean."""
    consistency = study.consistency
    shown = [ride for ride in study.rides if ride.standardised_pct.assessed]
    rows = [(_name(ride), Role.UNIT, ride.standardised_pct) for ride in shown if _in_mean(ride, study)]
    if not rows:
        return without_data(NAME, TITLE, RIDES, "no ride counts")
    found = consistency.standardised
    if found.next_ride_pct.assessed:
        rows.append(("mean over rides", Role.REFERENCE, found.mean_bias_pct))
        rows.append(("the next ride", Role.EXPECTED, found.next_ride_pct))
    rows += [
        (f"{_name(ride)}, group {_short(ride.group)}, not in the mean", Role.OTHER, ride.standardised_pct)
        for ride in shown
        if ride.counts and not _in_mean(ride, study)
    ]
    rows += [(f"{_name(ride)}, left out", Role.DIFFERENCE, ride.standardised_pct) for ride in shown if not ride.counts]
    ticks = tuple((float(place), f"{name}: {with_interval(value)}") for place, (name, _, value) in enumerate(rows))
    limit = _limit(study)
    at = f"{quantity(consistency.at_w, 'W', 0)} and {quantity(consistency.at_rpm, 'rpm', 0)}"
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            f"Each ride’s bias carried to {at} by its own fitted relation; bars are intervals of the ride alone. The "
            "next ride’s bar is where one more ride will read. Rides below it are not in the mean."
        ),
        alt=(
            f"Bias with its interval in {counted(len(rows), 'row')}. Mean over rides: "
            f"{reads_briefly(found.mean_bias_pct)}."
        ),
        x_axis=Axis(quantity="ride", unit="", ticks=ticks),
        panels=(
            Panel(
                y_axis=BIAS,
                marks=(
                    limit,
                    *(
                        estimate_points(name, role, [float(place)], [value])
                        for place, (name, role, value) in enumerate(rows)
                    ),
                ),
            ),
        ),
        sideways=True,
    )


def _in_mean(ride: RideFigures, study: Study) -> bool:
    return ride.counts and (not study.judged_on or ride.group == study.judged_on)


def _short(text: str) -> str:
    return clean(text, longest=LONGEST) or "unnamed"


def _name(ride: RideFigures) -> str:
    return _short(ride.name)


def _limit(study: Study) -> Level:
    """The limit claimed at the power the rides were carried to, else the line of no difference."""
    limit_pct = study.limit_pct
    if limit_pct is None:
        return Level(name="no difference", role=Role.LIMIT, y=0.0, low=0.0, high=0.0)
    return Level(name=f"claimed ±{limit_pct:.12g}{NBSP}%", role=Role.LIMIT, y=0.0, low=-limit_pct, high=limit_pct)
