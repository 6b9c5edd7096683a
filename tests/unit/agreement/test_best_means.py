"""Best mean powers against a literal search, and what gaps hide."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.agreement.rides import pair
from wattwitness.agreement.best_means import DURATIONS, best_means
from wattwitness.agreement.work import total_work


def test_against_a_literal_search() -> None:
    reference_w, unit_w = pair(seconds=700)
    for best in best_means(reference_w, reference_w, unit_w, durations_s=(1, 7, 60, 300)):
        means = [reference_w[at : at + best.duration_s].mean() for at in range(701 - best.duration_s)]
        assert best.reference_w == pytest.approx(max(means))
        start = int(np.argmax(means))
        assert best.reference_start_s == start
        assert best.same_window_unit_w == pytest.approx(unit_w[start : start + best.duration_s].mean())
        own = [unit_w[at : at + best.duration_s].mean() for at in range(701 - best.duration_s)]
        assert best.unit_w == pytest.approx(max(own))
        assert best.unit_start_s == int(np.argmax(own))


def test_a_late_mean_is_seen_through_the_response() -> None:
    reference_w = np.full(600, 100.0)
    reference_w[300:305] = 900.0
    unit_w = np.convolve(reference_w, np.full(5, 0.2))[:600]
    best = best_means(reference_w, unit_w, unit_w, durations_s=(5,))[0]
    assert best.reference_w == pytest.approx(900.0)
    assert best.unit_w == pytest.approx(unit_w[302:307].mean())
    assert best.same_window_unit_w == best.reference_through_response_w
    assert best.same_window_unit_w is not None
    assert best.unit_w is not None
    assert best.same_window_unit_w < best.unit_w < 900.0


def test_longer_than_the_ride_is_none() -> None:
    reference_w, unit_w = pair(seconds=900)
    by_duration = {best.duration_s: best for best in best_means(reference_w, reference_w, unit_w)}
    assert tuple(by_duration) == DURATIONS
    assert by_duration[600].reference_w is not None
    assert by_duration[1200].reference_w is None
    assert by_duration[1200].unit_start_s is None


def test_one_lost_sample_does_not_hide_an_hour_but_a_gap_does() -> None:
    reference_w = np.full(3600, 200.0)
    reference_w[1000] = np.nan
    assert best_means(reference_w, reference_w, reference_w, durations_s=(3600,))[0].reference_w == pytest.approx(200)
    reference_w[1000:1100] = np.nan
    assert best_means(reference_w, reference_w, reference_w, durations_s=(3600,))[0].reference_w is None


def test_a_gap_in_the_unit_hides_the_same_window_only() -> None:
    reference_w, unit_w = np.full(600, 100.0), np.full(600, 110.0)
    reference_w[200:260] = 300.0
    unit_w[200:260] = np.nan
    best = best_means(reference_w, reference_w, unit_w, durations_s=(60,))[0]
    assert (best.reference_start_s, best.same_window_unit_w) == (200.0, None)
    assert best.unit_w == pytest.approx(110.0)


def test_no_recording_at_all() -> None:
    nothing = np.full(100, np.nan)
    best = best_means(nothing, nothing, nothing, durations_s=(1, 30))
    assert all(item.reference_w is None and item.unit_w is None for item in best)


def test_total_work_is_over_common_seconds() -> None:
    reference_w, unit_w = np.full(1000, 200.0), np.full(1000, 210.0)
    unit_w[:100] = np.nan
    work = total_work(reference_w, unit_w)
    assert work is not None
    assert (work.reference_kj, work.unit_kj) == pytest.approx((180.0, 189.0))
    assert total_work(reference_w, np.full(1000, np.nan)) is None
