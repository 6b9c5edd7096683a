"""The rider against the facts of the trade that the defaults name, and the physics that hold for any rider.

The figures for variation are derived from one open indoor recording of one rider (status DER): priors, no standard.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from wattwitness.model.arrays import FloatArray
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.defaults import DEFAULTS, Status, trade
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.efforts import (
    Ease,
    Easy,
    Effort,
    GroupRide,
    Intervals,
    Mixed,
    Ramp,
    Steady,
    Steps,
    plan,
)
from wattwitness.simulate.rider import MOTOR, Rider, TrueRide, ride
from wattwitness.simulate.signals import LEAD_S, RATE_HZ, grid_size

EFFORTS: tuple[Effort, ...] = (Steady(), Intervals(), Ramp(), Steps(), GroupRide(), Easy(), Mixed())


def ridden(effort: Effort, rider: Rider, *, seed: int = 1, duration_s: float = 1800.0, **extra: object) -> TrueRide:
    size = grid_size(duration_s)
    eases = extra.get("eases", ())
    assert isinstance(eases, tuple)
    bike = extra.get("bike")
    assert bike is None or isinstance(bike, ResistanceBike)
    return ride(rider, plan(effort, duration_s, size, eases, Draws(seed, "effort")), bike, seed)


def seconds(line: FloatArray) -> FloatArray:
    body = line[LEAD_S * RATE_HZ :]
    return np.asarray(body[: body.size // RATE_HZ * RATE_HZ].reshape(-1, RATE_HZ).mean(axis=1))


def autocorrelation(values: NDArray[np.float64], lag: int) -> float:
    return float(np.corrcoef(values[:-lag], values[lag:])[0, 1])


def test_power_varies_from_second_to_second_as_on_record() -> None:
    found = []
    for seed in range(6):
        power_w = seconds(ridden(Steady(), Rider(), seed=seed).power_w)
        relative = power_w / power_w.mean() - 1.0
        blocks = [relative[: 1800 // width * width].reshape(-1, width).mean(axis=1).std() for width in (10, 30, 60)]
        found.append((relative.std(), *(autocorrelation(relative, lag) for lag in (1, 2, 10)), *blocks))
    cv, acf1, acf2, acf10, at_10, at_30, at_60 = np.mean(found, axis=0)
    assert 100 * cv == pytest.approx(trade("rider_power_cv_pct"), abs=0.3)
    assert acf1 == pytest.approx(trade("rider_power_acf1"), abs=0.03)
    assert acf2 == pytest.approx(0.07, abs=0.06)
    assert acf10 == pytest.approx(0.11, abs=0.06)
    # Means over 10, 30 and 60 s: 3.4, 2.6 and 2.2 % on record; ours has one slow time constant where people have many.
    assert (100 * at_10, 100 * at_30, 100 * at_60) == pytest.approx((3.4, 2.6, 2.2), abs=0.5)


def test_cadence_varies_as_on_record() -> None:
    found = []
    for seed in range(6):
        cadence = seconds(ridden(Steady(), Rider(gear_rpm=0.0), seed=seed).cadence_rpm)
        found.append((cadence.std(), autocorrelation(cadence, 1), autocorrelation(cadence, 8)))
    spread, acf1, acf8 = np.mean(found, axis=0)
    assert spread == pytest.approx(2.0, abs=0.2)
    assert 0.72 <= acf1 <= 0.94
    assert acf8 == pytest.approx(math.exp(-1.0), abs=0.12)


def test_a_motor_holds_the_plan_exactly() -> None:
    held = ridden(Steady(power_w=200.0, cadence_rpm=90.0), MOTOR)
    np.testing.assert_allclose(held.power_w, 200.0)
    np.testing.assert_allclose(held.cadence_rpm, 90.0)


@pytest.mark.parametrize("effort", EFFORTS, ids=lambda effort: type(effort).__name__)
def test_power_is_torque_times_angular_velocity(effort: Effort) -> None:
    true = ridden(effort, Rider())
    np.testing.assert_allclose(true.torque_nm * true.cadence_rpm * math.pi / 30.0, true.power_w, atol=1e-9)
    assert np.all(true.power_w >= 0.0)
    assert np.all(true.power_w[true.cadence_rpm == 0.0] == 0.0)
    assert true.torque_nm.max() < 150.0
    assert true.cadence_rpm.max() < 140.0
    assert 60.0 < true.heart_rate_bpm.min() < true.heart_rate_bpm.max() <= 192.0


def test_who_coasts_shows_no_power_and_cadence_runs_down() -> None:
    true = ridden(GroupRide(), Rider())
    coasting = true.target_w <= 0.0
    assert 0.01 < coasting.mean() < 0.2
    assert np.all(true.power_w[coasting] == 0.0)
    begins = np.flatnonzero(np.diff(coasting.astype(int)) == 1) + 1
    for start in begins.tolist():
        stretch = true.cadence_rpm[start : start + RATE_HZ * 3]
        still = stretch[coasting[start : start + RATE_HZ * 3]]
        assert np.all(np.diff(still) <= 1.0)
    assert np.any(true.cadence_rpm == 0.0)


def test_intervals_turn_where_they_should() -> None:
    held = ridden(Intervals(on_s=30.0, off_s=30.0, on_w=300.0, off_w=100.0), MOTOR)
    power_w = seconds(held.power_w)
    assert power_w[10:29] == pytest.approx(300.0, abs=1.0)
    assert power_w[40:59] == pytest.approx(100.0, abs=1.0)
    warm = seconds(ridden(Intervals(warm_up_s=60.0, repeats=1, on_s=30.0, off_s=10.0), MOTOR).power_w)
    assert warm[5:59] == pytest.approx(120.0, abs=1.0)
    assert warm[70:89] == pytest.approx(280.0, abs=1.0)
    assert warm[110:] == pytest.approx(120.0, abs=1.0)


def test_ramp_and_steps_reach_their_ends() -> None:
    ramp = seconds(ridden(Ramp(start_w=80.0, end_w=380.0), MOTOR).power_w)
    assert ramp[900] == pytest.approx(230.0, abs=1.0)
    assert ramp[1798] == pytest.approx(380.0, abs=1.0)
    steps = seconds(ridden(Steps(start_w=100.0, step_w=50.0, steps=3, step_s=100.0), MOTOR).power_w)
    assert [round(float(steps[place])) for place in (90, 190, 290, 390)] == [100, 150, 200, 100]


def test_easing_off_lowers_the_effort_for_its_time() -> None:
    eased = seconds(
        ridden(Steady(power_w=200.0), MOTOR, eases=(Ease(start_s=600.0, duration_s=60.0, share=0.5),)).power_w
    )
    assert eased[595] == pytest.approx(200.0)
    assert eased[630] == pytest.approx(100.0, abs=0.1)
    assert eased[700] == pytest.approx(200.0, abs=0.1)


@pytest.mark.parametrize(("power_w", "spread"), [(100.0, 11.6), (200.0, 4.9), (325.0, 3.4), (470.0, 2.2)])
def test_left_share_scatters_less_at_high_power(power_w: float, spread: float) -> None:
    # One open outdoor recording (status DER): these spreads from second to second, and 1.3 points over 60-s means.
    found = [
        seconds(ridden(Steady(power_w=power_w), Rider(power_cv_pct=0.0), seed=seed).left_share_pct) for seed in range(4)
    ]
    assert np.mean([share.std() for share in found]) == pytest.approx(spread, rel=0.06)
    if power_w == 200.0:
        minutes = np.concatenate([share[:1800].reshape(-1, 60).mean(axis=1) for share in found])
        assert minutes.std() == pytest.approx(1.3, abs=0.4)


def test_set_resistance_makes_power_follow_cadence() -> None:
    # 94 W at 56 rpm and 240 W at 95 rpm at one level: published readings of a studio bike (status DER), P ~ rpm^1.77.
    bike = ResistanceBike()
    table = bike.table_w(np.array([56.0, 95.0]), np.array([40.0, 40.0]))
    exponent = math.log(table[1] / table[0]) / math.log(95.0 / 56.0)
    assert exponent == pytest.approx(1.77, abs=0.02)
    held = ridden(Steady(power_w=200.0, cadence_rpm=80.0), MOTOR, bike=ResistanceBike(warm_up_pct=-7.0))
    power_w = seconds(held.power_w)
    assert np.unique(held.resistance).size == 1
    assert power_w[0] == pytest.approx(200.0, rel=0.02)
    assert power_w[1790] / power_w[0] - 1.0 == pytest.approx(-0.07 * (1 - math.exp(-3.0)), abs=0.002)


def test_level_for_undoes_the_table() -> None:
    bike = ResistanceBike()
    levels, cadence = np.array([5.0, 30.0, 77.0]), np.array([60.0, 80.0, 100.0])
    np.testing.assert_array_equal(bike.level_for(bike.table_w(cadence, levels), cadence), levels)


def test_every_default_says_where_it_is_from() -> None:
    for name, row in DEFAULTS.items():
        assert row.source, name
        assert isinstance(row.status, Status)
        assert row.low <= row.value <= row.high, name
        assert row.unit, name
    assert trade("rider_power_cv_pct") == 6.9
    with pytest.raises(KeyError):
        trade("rider_shoe_size")
