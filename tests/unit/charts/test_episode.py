"""The figure of one episode: what is drawn, from where to where, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.factories import series
from tests.factories_evidence import drop, found, other, with_faults
from wattwitness.charts.episode import AROUND_S, build
from wattwitness.model.chart import Chart, Line, Panel, Span
from wattwitness.model.episodes import Episode, EpisodeKind, Finding


def chart_of(episode: Episode) -> Chart:
    """The figure of an only episode."""
    return build(with_faults(found(episode)), episode, place=1)


def panel(chart: Chart, quantity: str) -> Panel:
    """The panel of a quantity."""
    (wanted,) = [item for item in chart.panels if item.y_axis.quantity == quantity]
    return wanted


def lines(of: Panel) -> dict[str, Line]:
    """Its lines by name."""
    return {mark.name: mark for mark in of.marks if isinstance(mark, Line)}


def test_it_holds_both_powers_and_every_witness_channel_with_units() -> None:
    """Power, cadence, resistance, heart rate."""
    chart = chart_of(drop())
    labels = [item.y_axis.label for item in chart.panels]
    assert labels == ["power, W", "cadence, rpm", "resistance, the bike’s own scale", "heart rate, bpm"]
    assert {"Laboratory pedals", "Studio bike B"} <= set(lines(chart.panels[0]))


def test_heart_rate_stands_beside_both_predictions() -> None:
    """Measured, and what either meter's account would have made of it; the unit's falls."""
    drawn = lines(panel(chart_of(drop()), "heart rate"))
    assert set(drawn) == {"measured", "if Laboratory pedals is right", "if Studio bike B is right"}
    assert np.nanmin(drawn["if Studio bike B is right"].y) < np.nanmin(drawn["measured"].y) - 10


def test_without_predictions_heart_rate_is_drawn_as_recorded() -> None:
    """It is a witness all the same."""
    drawn = lines(panel(chart_of(replace(drop(), heart=None)), "heart rate"))
    assert set(drawn) == {"Laboratory pedals"}


def test_every_panel_is_shaded_over_the_episode_and_shows_three_minutes_around() -> None:
    """And nothing beyond."""
    chart = chart_of(drop(1500, 1625))
    assert chart.x_range == (1500 - AROUND_S, 1625 + AROUND_S)
    for item in chart.panels:
        (span,) = [mark for mark in item.marks if isinstance(mark, Span)]
        assert (span.start, span.end) == (1500, 1625)
        for line in lines(item).values():
            assert line.x.min() >= 1500 - AROUND_S
            assert line.x.max() <= 1625 + AROUND_S


def test_a_spike_of_a_second_can_be_seen() -> None:
    """Its shading is widened to what paper can show."""
    spike = replace(drop(1500, 1501), kind=EpisodeKind.SPIKE)
    span = next(mark for mark in chart_of(spike).panels[0].marks if isinstance(mark, Span))
    assert span.end - span.start > 1
    assert span.start < 1500
    assert span.end > 1501


def test_the_edges_of_the_ride_are_the_edges_of_the_figure() -> None:
    """An episode at the start has no three minutes before it."""
    chart = chart_of(drop(20, 60))
    assert chart.x_range is not None
    assert chart.x_range[0] == 0


@pytest.mark.parametrize("finding", list(Finding))
def test_the_caption_says_whom_it_is_put_down_to_by_name(finding: Finding) -> None:
    """Never by role where there is a name, and never firmer than the finding."""
    caption = chart_of(replace(drop(), finding=finding)).caption
    said = {
        Finding.UNIT: "Put down to Studio bike B",
        Finding.REFERENCE: "Put down to Laboratory pedals",
        Finding.RIDER: "Put down to the rider",
        Finding.UNDETERMINED: "cannot be told",
    }
    assert said[finding] in caption
    assert all(words not in caption for other_finding, words in said.items() if other_finding is not finding)


def test_without_anything_around_it_there_is_a_reason() -> None:
    """No panels, and words."""
    blank = series(10)
    nothing = np.full(10, np.nan)
    names = [name for name in blank.__slots__ if name != "time_s"]
    pair = replace(with_faults(None), series=replace(blank, **dict.fromkeys(names, nothing)))
    chart = build(pair, replace(other(Finding.UNDETERMINED), start_s=3.0, end_s=4.0), place=2)
    assert chart.panels == ()
    assert chart.empty
