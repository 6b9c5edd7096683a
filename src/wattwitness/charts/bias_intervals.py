"""The bias of the ride by each of its intervals, or of several units side by side, beside a stated limit."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.charts.building import BIAS, estimate_points, without_data, zero_level
from wattwitness.model.chart import Axis, Chart, Level, Panel, Points, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.words.estimates import because, reads, reads_briefly, with_interval
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import NBSP, decimals_for, number, percent_level

NAME = "bias_intervals"
TITLE = "The bias by its intervals"
GLANCE_NAME = "bias_at_a_glance"
Case = tuple[str, Role, Estimate]


def build(pair: PairComparison, *, limit_pct: float | None = None) -> Chart:
    """Four intervals around one value: this ride's, with the reference's uncertainty, bootstrap, naive."""
    overall = pair.overall
    cases: list[Case] = [
        ("this ride", Role.UNIT, overall.bias_pct),
        ("with reference’s uncertainty", Role.EXPECTED, overall.bias_with_reference_pct),
        ("bootstrap", Role.OTHER, overall.bootstrap_pct),
        ("seconds as independent", Role.FAULT, overall.naive_pct),
    ]
    unit = pair_names(pair)[1]
    level = percent_level(overall.bias_pct.level)
    return _chart(
        NAME,
        TITLE,
        cases,
        limit_pct,
        caption=f"Points are the bias, bars the {level} intervals. The last one is too narrow.",
        alt=f"Bias of {unit} by its intervals. {unit} {reads(overall.bias_pct)}.",
    )


def build_glance(pairs: Sequence[PairComparison], names: Sequence[str], *, limit_pct: float | None = None) -> Chart:
    """The answer as a picture: each unit's bias with its own interval, and with the reference's uncertainty."""
    several = len(pairs) > 1
    cases: list[Case] = []
    for pair, name in zip(pairs, names, strict=True):
        lead = f"{name}, " if several else ""
        cases.append((name if several else "this ride", Role.UNIT, pair.overall.bias_pct))
        with_reference = pair.overall.bias_with_reference_pct
        cases.append((f"{lead}with reference’s uncertainty", Role.EXPECTED, with_reference))
    words = "; ".join(
        f"{name}: {reads_briefly(pair.overall.bias_pct)}" for pair, name in zip(pairs, names, strict=True)
    )
    return _chart(
        GLANCE_NAME,
        "Bias and its intervals",
        cases,
        limit_pct,
        caption=f"Points are the bias, bars the {percent_level(pairs[0].overall.bias_pct.level)} intervals.",
        alt=f"Bias with intervals. {words}.",
    )


def _chart(name: str, title: str, cases: list[Case], limit_pct: float | None, *, caption: str, alt: str) -> Chart:
    shown = [case for case in cases if case[2].assessed]
    ticks = tuple(
        (float(place), f"{words}: {with_interval(estimate)}") for place, (words, _, estimate) in enumerate(shown)
    )
    axis = Axis(quantity="interval", unit="", ticks=ticks)
    if not shown:
        return without_data(name, title, axis, because(cases[0][2].not_assessed or "unknown"))
    base = zero_level() if limit_pct is None else _limit(limit_pct)
    return Chart(
        name=name,
        title=title,
        caption=caption,
        alt=alt,
        x_axis=axis,
        panels=(Panel(y_axis=BIAS, marks=(base, *_points(shown))),),
        sideways=True,
    )


def _limit(limit_pct: float) -> Level:
    words = f"stated limit ±{number(limit_pct, decimals_for(limit_pct, fewest=0))}{NBSP}%"
    return Level(name=words, role=Role.LIMIT, y=0.0, low=-limit_pct, high=limit_pct)


def _points(shown: list[Case]) -> list[Points]:
    return [
        estimate_points(words, role, [float(place)], [estimate]) for place, (words, role, estimate) in enumerate(shown)
    ]
