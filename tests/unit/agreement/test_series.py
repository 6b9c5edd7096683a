"""What the panels draw."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.agreement.series import pair_series
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.recording import ChannelName


def test_difference_is_of_half_minute_means_and_only_above_fifty_watts() -> None:
    reference_w = np.concatenate([np.full(300, 200.0), np.full(300, 30.0)])
    unit_w = 1.1 * reference_w
    unit_w[100] = np.nan
    pair = AlignedPair(
        time_s=np.arange(600.0),
        reference={ChannelName.POWER: reference_w, ChannelName.CADENCE: np.full(600, 90.0)},
        unit={ChannelName.POWER: unit_w},
    )
    series = pair_series(pair, reference_w)
    assert series.difference_pct[:100] == pytest.approx(np.full(100, 10.0))
    assert np.isnan(series.difference_pct[100])
    assert np.isnan(series.difference_pct[400:]).all()
    assert series.reference_rpm == pytest.approx(np.full(600, 90.0))
    assert np.isnan(series.unit_rpm).all()
    assert np.isnan(series.unit_bpm).all()


def test_spot_readings_have_a_difference() -> None:
    reference_w, spots = np.full(600, 200.0), np.full(600, np.nan)
    spots[::20] = 190.0
    pair = AlignedPair(
        time_s=np.arange(600.0), reference={ChannelName.POWER: reference_w}, unit={ChannelName.POWER: spots}
    )
    difference = pair_series(pair, reference_w).difference_pct
    assert difference[::20] == pytest.approx(np.full(30, -5.0))
    assert np.isnan(difference[1::20]).all()
