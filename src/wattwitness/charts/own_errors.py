"""Each meter's own error beside the others', by averaging time: points with intervals."""

from __future__ import annotations

from wattwitness.charts.building import estimate_points, without_data
from wattwitness.model.chart import Axis, Chart, Panel, Role
from wattwitness.model.three_meters import MetersTogether
from wattwitness.words.estimates import with_interval
from wattwitness.words.names import clean
from wattwitness.words.numbers import short_duration

NAME = "own_errors_by_meter"
TITLE = "Each meter’s own error"
OWN = Axis(quantity="own error, standard deviation", unit="%")
ROLES = (Role.EXPECTED, Role.UNIT, Role.OTHER, Role.FAULT)


def build(together: MetersTogether) -> Chart:
    """One case for each meter and averaging time, the meters in turn."""
    axis = Axis(quantity="meter and averaging time", unit="")
    cases = [
        (f"{clean(meter.name)}, {short_duration(spread.averaging_s)}", ROLES[place % len(ROLES)], spread.own_sd_pct)
        for place, meter in enumerate(together.meters)
        for spread in meter.spreads
        if spread.own_sd_pct.assessed
    ]
    if not cases:
        return without_data(NAME, TITLE, axis, together.why or "fewer than three meters could be compared")
    ticks = tuple(
        (float(place), f"{words}: {with_interval(estimate, 2, signed=False)}")
        for place, (words, _, estimate) in enumerate(cases)
    )
    words = "; ".join(f"{words} {with_interval(estimate, 2, signed=False)}" for words, _, estimate in cases)
    return Chart(
        name=NAME,
        title=TITLE,
        caption="Standard deviation of what each meter shows beyond the effort and its own constant bias.",
        alt=f"Each meter’s own error by averaging time: {words}.",
        x_axis=Axis(quantity=axis.quantity, unit="", ticks=ticks),
        panels=(
            Panel(
                y_axis=OWN,
                marks=tuple(
                    estimate_points(words, role, [float(place)], [estimate])
                    for place, (words, role, estimate) in enumerate(cases)
                ),
            ),
        ),
        sideways=True,
    )
