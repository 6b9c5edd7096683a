"""Hanging weights: what the worksheet's truth is, and what comes back."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import LoadStep, Side
from wattwitness.reference.hanging_weights import weigh
from wattwitness.reference.weighing_drift import drifts_of
from wattwitness.words.estimates import because


def holds(estimate: Estimate, truth: float) -> bool:
    return estimate.low is not None and estimate.high is not None and estimate.low <= truth <= estimate.high


def test_a_meter_without_scatter_comes_back_exactly() -> None:
    """Slope, zero, its shift, a bow and hysteresis, to rounding."""
    exact = TrueMeter(gain=1.02, zero_nm=0.3, zero_shift_nm=0.1, scatter_nm=0.0)
    side = weigh(worksheet(exact, 1)).sides[0]
    assert side.slope == pytest.approx(1.02, abs=1e-9)
    assert side.zero_nm.value == pytest.approx(0.3)
    assert side.zero_shift_nm.value == pytest.approx(0.1)
    assert side.linearity_pct.value == pytest.approx(0.0, abs=1e-9)
    assert side.hysteresis_pct.value == pytest.approx(0.0, abs=1e-9)
    assert side.correction_factor.value == pytest.approx(1 / 1.02)
    bent = TrueMeter(scatter_nm=0.0, bow_nm=0.4, hysteresis_nm=0.2)
    side = weigh(worksheet(bent, 1)).sides[0]
    assert side.hysteresis_pct.value == pytest.approx(100 * 0.2 / side.largest_nm)
    assert abs(side.linearity_pct.value or 0) > 0.5
    assert side.largest_nm == pytest.approx(20 * 9.8 * 0.1725)


@pytest.mark.parametrize(
    ("meter", "kwargs"),
    [
        (TrueMeter(), {}),
        (TrueMeter(position_pct=0.3), {"repeats": 1}),
        (TrueMeter(position_pct=0.3, repeat_pct=0.1), {"repeats": 3}),
        (TrueMeter(), {"positions": 1, "repeats": 1}),
        (TrueMeter(scatter_nm=0.02), {"resolution_nm": 0.1}),
    ],
)
def test_intervals_hold_the_truth(meter: TrueMeter, kwargs: dict[str, Any]) -> None:
    """60 worksheets each; an interval that held 95 % would miss more than nine of them once in a thousand."""
    made = [weigh(worksheet(meter, seed, **kwargs)) for seed in range(60)]
    sides = [weighing.sides[0] for weighing in made]
    assert sum(holds(item.gain_pct, 1.0) for item in made) > 50
    assert sum(holds(item.gain_pct, 1.0) for item in sides) > 50
    assert sum(holds(item.side_difference_pct, 0.0) for item in made) > 50
    if "repeats" not in kwargs or kwargs["repeats"] > 1:
        assert sum(holds(item.zero_nm, 0.2) for item in sides) > 50
        assert sum(holds(item.position_pct, meter.position_pct) for item in sides if item.position_pct.assessed) > 50


def test_what_is_off_by_as_much_as_stated_is_in_the_interval() -> None:
    """Masses, lever and angle each drawn within what the worksheet says of them."""
    generator = np.random.default_rng(7)
    stated: dict[str, Any] = {"mass_uncertainty_pct": 1.0, "lever_uncertainty_mm": 0.5, "angle_uncertainty_deg": 5.0}
    held = []
    for seed in range(60):
        mass, lever, angle = generator.uniform(-1, 1, 3)
        made = worksheet(
            TrueMeter(), seed, mass_off_pct=mass, lever_off_mm=0.5 * lever, angle_off_deg=5 * angle, **stated
        )
        held.append(holds(weigh(made).gain_pct, 1.0))
    assert sum(held) > 50
    parts = {part.name: part for part in weigh(made).budget.contributions}
    assert parts["lever"].contribution_pct == pytest.approx(100 * 0.5 / math.sqrt(3) / 172.5)
    # Within 5° of horizontal the root mean square of cos - 1 is 0.17 %, though its derivative there is nothing.
    assert parts["angle"].contribution_pct == pytest.approx(0.17, abs=0.005)


def test_what_is_not_stated_is_assumed_and_said() -> None:
    made = worksheet(TrueMeter(), 1)
    bare = type(made)(meter=made.meter, readings=made.readings)
    weighing = weigh(bare)
    slugs = {notice.slug for notice in weighing.notices}
    assert {"mass_uncertainty_assumed", "lever_uncertainty_assumed", "angle_uncertainty_assumed"} <= slugs
    assert {"resolution_assumed", "gravity_assumed"} <= slugs
    assert all(part.is_default for part in weighing.budget.contributions if part.name in ("mass", "lever", "gravity"))
    assert weighing.gain_pct.low is not None
    assert weighing.gain_pct.low < weigh(made).gain_pct.low  # type: ignore[operator]


def test_sides_that_differ_are_said_and_the_whole_is_their_mean() -> None:
    weighing = weigh(worksheet(TrueMeter(gain=1.02, right_gain=1.00), 1))
    left, right = weighing.sides
    assert weighing.gain_pct.value == pytest.approx(((left.gain_pct.value or 0) + (right.gain_pct.value or 0)) / 2)
    assert holds(weighing.side_difference_pct, 2.0)
    assert "sides_differ" in {notice.slug for notice in weighing.notices}
    alone = weigh(worksheet(TrueMeter(), 1, sides=(Side.BOTH,)))
    assert alone.side_difference_pct.not_assessed == "one_side_weighed"


def test_too_little_says_so() -> None:
    """One series: no positions, no repeats; one load: no line."""
    side = weigh(worksheet(TrueMeter(), 1, positions=1, repeats=1, sides=(Side.LEFT,))).sides[0]
    assert side.repeatability_nm.not_assessed == "no_repeats"
    assert side.position_pct.not_assessed == "one_position"
    made = worksheet(TrueMeter(), 1, positions=1, repeats=1, sides=(Side.LEFT,))
    one_load = [item for item in made.readings if item.mass_kg in (0.0, 5.0)]
    with pytest.raises(ValueError, match="fewer than 3 different loads"):
        weigh(type(made)(meter="m", readings=tuple(one_load)))
    up_only = [item for item in made.readings if item.step in (LoadStep.ZERO_BEFORE, LoadStep.UP)]
    side = weigh(type(made)(meter="m", readings=tuple(up_only))).sides[0]
    assert side.hysteresis_pct.not_assessed == "not_loaded_and_unloaded"
    assert side.zero_shift_nm.not_assessed == "zero_not_read"
    one_way = [item for item in made.readings if item.step is not LoadStep.DOWN or item.mass_kg == 5.0]
    side = weigh(type(made)(meter="m", readings=tuple(one_way))).sides[0]
    assert side.hysteresis_pct.not_assessed == "one_load_both_ways", "one was, so it is not said that none was"
    assert because("one_load_both_ways").startswith("only one load was read both")


def test_a_reading_that_falls_with_the_load_is_no_gain() -> None:
    weighing = weigh(worksheet(TrueMeter(gain=-1.0), 1))
    assert "reading_falls_with_load" in {notice.slug for notice in weighing.notices}
    assert weighing.correction_factor.not_assessed == "gain_not_positive"


def test_drift_is_seen_where_there_is_one_and_not_where_the_masses_are_off() -> None:
    """The same wrong masses each time move every gain alike."""
    dates = ("2026-01-12", "2026-02-09", "2026-03-09", "2026-04-06")
    kwargs: dict[str, Any] = {"mass_off_pct": 1.0, "mass_uncertainty_pct": 1.0}
    steady = [weigh(worksheet(TrueMeter(), n, date=date, **kwargs)) for n, date in enumerate(dates)]
    (drift,) = drifts_of(steady)
    assert holds(drift.change_pct, 0.0)
    assert (drift.change_pct.high or 9) - (drift.change_pct.low or -9) < 0.5
    moving = [
        weigh(worksheet(TrueMeter(gain=1.01 + 0.004 * n), n, date=date, **kwargs)) for n, date in enumerate(dates)
    ]
    (drift,) = drifts_of(moving)
    assert holds(drift.change_pct, 1.2 * 1.01)
    assert drift.per_30_days_pct.value == pytest.approx(0.4 * 30 / 28, rel=0.15)
    assert holds(drift.per_30_days_pct, 0.4 * 1.01 * 30 / 28)
    assert drifts_of(moving[:1]) == ()
