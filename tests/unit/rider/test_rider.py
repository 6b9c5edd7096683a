"""Zones, threshold, places and detectable change."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.rider import ZoneSet
from wattwitness.rider.detectable import FACTOR, detectable_change, within_subject_sd
from wattwitness.rider.ranking import places
from wattwitness.rider.threshold import threshold_test
from wattwitness.rider.zone_sets import SEVEN, THREE
from wattwitness.rider.zones import zone_shown, zones_ridden

FIELD = (("A", 300.0), ("B", 290.0), ("C", 285.0), ("D", 250.0))


def test_a_unit_that_reads_low_shows_the_zone_below() -> None:
    """Held at 96 % of threshold, 8 % low: true level 4, shown level 3, every second."""
    power = np.full(600, 240.0)
    ridden = zones_ridden(power, power, 0.92 * power, SEVEN, 250.0, threshold_from="stated")
    assert ridden.shown[3][2] == 600
    assert ridden.perfect[3][3] == 600
    assert ridden.agreeing == 0.0
    assert ridden.perfect_agreeing == 1.0


def test_averaging_alone_is_told_by_the_perfect_unit() -> None:
    """A one-minute mean lags behind every step; a perfect unit with it shows the same, so it is no error."""
    effort = np.repeat(np.tile([150.0, 300.0], 10), 60)
    late = np.convolve(np.concatenate([np.full(59, 150.0), effort]), np.ones(60) / 60, mode="valid")
    ridden = zones_ridden(effort, late, late, SEVEN, 250.0, threshold_from="stated")
    assert ridden.agreeing == ridden.perfect_agreeing
    assert ridden.agreeing is not None
    assert ridden.agreeing < 0.7


def test_missing_seconds_are_in_no_zone() -> None:
    power = np.full(300, 200.0)
    gap = power.copy()
    gap[100:200] = np.nan
    ridden = zones_ridden(power, power, gap, THREE, 250.0, threshold_from="stated")
    assert sum(map(sum, ridden.shown)) == 200
    nothing = zones_ridden(power, power, np.full(300, np.nan), THREE, 250.0, threshold_from="stated")
    assert nothing.agreeing is None
    with pytest.raises(ValueError, match="above 0"):
        zones_ridden(power, power, power, THREE, 0.0, threshold_from="stated")


@pytest.mark.parametrize(("upper", "names"), [((0.9, 0.5), ("a", "b", "c")), ((), ("a",)), ((0.5,), ("a",))])
def test_zones_that_do_not_fit_are_refused(upper: tuple[float, ...], names: tuple[str, ...]) -> None:
    with pytest.raises(ValueError, match="rising boundaries"):
        ZoneSet(name="x", upper=upper, names=names, source="")


def test_the_middle_of_a_zone_over_the_spread_of_rides() -> None:
    """Level 3 goes from 75 to 90 %: its middle is 9 % from either end. Checked by drawing."""
    rng = np.random.default_rng(4)
    rides = -6 + 3 * rng.normal(size=200_000)
    seconds = rides + 2 * rng.normal(size=rides.size)
    shown = {one.zone: one for one in zone_shown(SEVEN, 250.0, bias_pct=-6, between_pct=3, within_pct=2)}
    middle = 0.825
    low, high = 100 * (0.75 / middle - 1), 100 * (0.90 / middle - 1)
    assert shown["level 3"].held_w == pytest.approx(middle * 250)
    assert shown["level 3"].other_shown == pytest.approx(np.mean((rides <= low) | (rides > high)), abs=0.004)
    assert shown["level 3"].seconds_share == pytest.approx(np.mean((seconds <= low) | (seconds > high)), abs=0.004)
    steady = zone_shown(SEVEN, 250.0, bias_pct=0, between_pct=0, within_pct=0)
    assert all(one.other_shown == 0 for one in steady)
    assert "level 1" not in shown
    assert "level 7" not in shown


def test_threshold_on_each_meter() -> None:
    power = np.concatenate([np.full(600, 150.0), np.full(1300, 260.0), np.full(300, 120.0)])
    found = threshold_test(power, 0.94 * power, SEVEN)
    assert found.reference_w == pytest.approx(247.0)
    assert found.unit_w == pytest.approx(0.94 * 247.0)
    zone, by_reference, by_unit = found.zone_ends_w[3]
    assert zone == "level 4"
    assert (by_reference, by_unit) == pytest.approx((1.05 * 247.0, 1.05 * 0.94 * 247.0))
    short = threshold_test(power[:1000], power[:1000], SEVEN)
    assert short.reference_w is None
    assert short.zone_ends_w == ()


def test_places_in_a_field() -> None:
    """6 % low takes the first to fourth place but one: 282 W is behind 290 and 285 W."""
    shown = places(FIELD, bias_pct=-6, low_pct=-20, high_pct=0)
    assert (shown[0].true_place, shown[0].shown_place, shown[0].best, shown[0].worst) == (1, 3, 1, 4)
    assert (shown[3].true_place, shown[3].shown_place) == (4, 4)


def test_detectable_change_covers() -> None:
    rng = np.random.default_rng(5)
    covered = 0
    for _ in range(300):
        rides = 1.4 * rng.normal(size=6)
        found = detectable_change(float(rides.std(ddof=1)), 5)
        assert found.unit_pct.low is not None
        assert found.unit_pct.high is not None
        covered += found.unit_pct.low <= FACTOR * 1.4 <= found.unit_pct.high
    assert 272 <= covered <= 297
    assert not detectable_change(None, 0).unit_pct.assessed


def test_nobody_tested_twice() -> None:
    with pytest.raises(ValueError, match="twice"):
        within_subject_sd([np.array([1.0]), np.array([2.0])])
