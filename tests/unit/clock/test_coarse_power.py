"""Power rounded to coarse steps: where no clock is found, the reason names them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.clock.rides import recording, seen, varied
from wattwitness.clock.fit import fit_clock, power_step_w
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockStatus

SECONDS = 1800
AT_S = np.arange(float(SECONDS))


def power(*, step: float, seed: int = 3) -> FloatArray:
    return seen(varied(SECONDS, seed=seed, level=200.0, spread=25.0), AT_S, noise=6.0, step=step)


@pytest.mark.parametrize("step", [1.0, 5.0, 20.0, 25.0, 100.0])
def test_the_step_is_that_of_the_rounding(step: float) -> None:
    assert power_step_w(power(step=step)) == step


def test_what_hardly_repeats_has_no_step() -> None:
    assert power_step_w(np.array([100.0, 150.0, 210.0, 400.0])) == 0
    assert power_step_w(np.full(600, 200.0)) == 0
    assert power_step_w(np.full(600, np.nan)) == 0
    assert power_step_w(np.append(power(step=50.0), np.nan)) == 50


def test_a_clock_not_found_for_coarse_power_says_so() -> None:
    fine, coarse = recording(AT_S, power=power(step=1.0)), recording(AT_S, power=power(step=100.0, seed=4))
    fit = fit_clock(fine, coarse)
    assert not fit.status.usable
    assert "The unit's power moves in steps of 100 W" in fit.reason
    assert "The reference's power moves in steps" not in fit.reason
    assert "The reference's power moves in steps of 100 W" in fit_clock(coarse, fine).reason


def test_nothing_is_said_of_fine_power_or_of_a_clock_that_was_found() -> None:
    fine = recording(AT_S, power=power(step=1.0))
    assert "steps" not in fit_clock(fine, recording(AT_S, power=power(step=1.0, seed=4))).reason
    cadence = seen(varied(SECONDS, seed=5), AT_S)
    again = seen(varied(SECONDS, seed=5), AT_S, seed=9)
    found = fit_clock(
        recording(AT_S, power=power(step=1.0), cadence=cadence),
        recording(AT_S, power=power(step=100.0), cadence=again),
    )
    assert found.status is ClockStatus.FOUND
    assert "steps" not in found.reason
