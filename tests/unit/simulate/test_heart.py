"""Heart rate: first order, slower up than down, late, drifting. Defaults on record with status RET (up) and DER."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.heart import Heart, heart_rate
from wattwitness.simulate.signals import LEAD_S, RATE_HZ

QUIET = Heart(scatter_bpm=0.0, drift_bpm_per_h=0.0)


def of_step(heart: Heart, *, up_s: int, down_s: int) -> FloatArray:
    """Heart rate second by second from the start, for 0 W before, 250 W for ``up_s`` and 0 W for ``down_s``."""
    power_w = np.concatenate((np.zeros(LEAD_S), np.full(up_s, 250.0), np.zeros(down_s))).repeat(RATE_HZ)
    return heart_rate(heart, power_w, Draws(1, "heart"))[LEAD_S * RATE_HZ :: RATE_HZ]


def test_up_with_its_time_constant_after_its_delay() -> None:
    line = of_step(QUIET, up_s=600, down_s=0)
    assert line[:2] == pytest.approx(QUIET.rest_bpm)
    reached = QUIET.rest_bpm + (155.0 - QUIET.rest_bpm) * (1.0 - math.exp(-1.0))
    assert int(np.argmax(line >= reached)) == pytest.approx(QUIET.delay_on_s + QUIET.tau_on_s, abs=2)


def test_down_faster_after_a_longer_delay() -> None:
    line = of_step(QUIET, up_s=1200, down_s=600)[1200:]
    peak = line[0]
    assert line[10] == pytest.approx(peak, abs=0.05)
    fallen = QUIET.rest_bpm + (peak - QUIET.rest_bpm) * math.exp(-1.0)
    assert int(np.argmax(line <= fallen)) == pytest.approx(QUIET.delay_off_s + QUIET.tau_off_s, abs=2)


def test_drift_begins_late_and_climbs_by_the_hour() -> None:
    heart = Heart(scatter_bpm=0.0)
    line = of_step(heart, up_s=4200, down_s=0)
    assert line[4190] - line[600] == pytest.approx(10.0, abs=0.2)
    assert line[600] == pytest.approx(155.0, abs=0.1)


def test_scatter_is_as_wide_as_said() -> None:
    quiet, lively = of_step(QUIET, up_s=3600, down_s=0), of_step(Heart(drift_bpm_per_h=0.0), up_s=3600, down_s=0)
    assert (lively - quiet).std() == pytest.approx(2.5, abs=0.5)


def test_never_above_the_top() -> None:
    assert of_step(Heart(top_bpm=150.0), up_s=2000, down_s=0).max() <= 150.0
