"""The bias of the ride by each of its intervals, beside a stated limit."""

from __future__ import annotations

from wattwitness.charts.building import BIAS, estimate_points, without_data, zero_level
from wattwitness.model.chart import Axis, Chart, Level, Panel, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.words.estimates import because, reads
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import number, percent_level

NAME = "bias_intervals"
TITLE = "The bias, and how sure it is"


def build(pair: PairComparison, *, limit_pct: float | None = None) -> Chart:
    """Four intervals around one value: this ride's, with the reference's uncertainty, bootstrap, naive."""
    overall = pair.overall
    cases: list[tuple[str, Role, Estimate]] = [
        ("this ride", Role.UNIT, overall.bias_pct),
        ("with reference’s uncertainty", Role.EXPECTED, overall.bias_with_reference_pct),
        ("bootstrap", Role.OTHER, overall.bootstrap_pct),
        ("seconds as independent (too narrow)", Role.FAULT, overall.naive_pct),
    ]
    shown = [case for case in cases if case[2].assessed]
    axis = Axis(quantity="interval", unit="", ticks=tuple((float(place), case[0]) for place, case in enumerate(shown)))
    if not overall.bias_pct.assessed:
        return without_data(NAME, TITLE, axis, because(overall.bias_pct.not_assessed or "unknown"))
    points = tuple(
        estimate_points(name, role, [float(place)], [estimate]) for place, (name, role, estimate) in enumerate(shown)
    )
    base = zero_level()
    if limit_pct is not None:
        name = f"stated limit ±{number(limit_pct, 1)} %"
        base = Level(name=name, role=Role.LIMIT, y=0.0, low=-limit_pct, high=limit_pct)
    _, unit = pair_names(pair)
    return Chart(
        name=NAME,
        title=TITLE,
        caption=f"Points are the bias, bars the {percent_level(overall.bias_pct.level)} intervals.",
        alt=f"Bias of {unit} by {len(shown)} intervals. {unit} {reads(overall.bias_pct)}.",
        x_axis=axis,
        panels=(Panel(y_axis=BIAS, marks=(base, *points)),),
    )
