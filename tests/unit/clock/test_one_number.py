"""A power of one number throughout: said as that, and not as an effort too even to match."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.clock.rides import recording, seen, varied
from wattwitness.clock.fit import fit_clock
from wattwitness.clock.one_number import LEAST_SAMPLES, one_number, one_power_w
from wattwitness.model.clock import ClockStatus

SECONDS = 1800
AT_S = np.arange(float(SECONDS))
POWER = seen(varied(SECONDS, seed=3, level=200.0, spread=25.0), AT_S, noise=6.0)
EVEN = np.full(SECONDS, 85.0)


@pytest.mark.parametrize(
    ("shown_w", "says", "cause"),
    [(0.0, "The unit shows 0 W in every sample.", "sensor was not paired"), (250.0, "shows 250 W in", "a target")],
)
def test_one_number_is_said_as_what_it_is(shown_w: float, says: str, cause: str) -> None:
    fit = fit_clock(recording(AT_S, power=POWER), recording(AT_S, power=np.full(SECONDS, shown_w)))
    assert not fit.status.usable
    assert says in fit.reason
    assert cause in fit.reason
    assert "hardly" not in fit.reason, "the reference's effort changes plainly"


def test_whose_number_it_is_and_what_the_cadence_does_is_said() -> None:
    dead = recording(AT_S, power=np.zeros(SECONDS), cadence=EVEN)
    fit = fit_clock(dead, recording(AT_S, power=POWER, cadence=EVEN))
    assert fit.status is ClockStatus.AMBIGUOUS
    assert fit.reason.startswith("The reference shows 0 W in every sample.")
    assert fit.reason.endswith("The cadence hardly changes beyond the meters' own noise, so many offsets fit.")
    flat = np.round(200.0 + np.random.default_rng(1).standard_normal(SECONDS))
    assert "hardly changes" in fit_clock(recording(AT_S, power=flat), recording(AT_S, power=flat[::-1])).reason


def test_a_few_samples_or_one_other_are_no_one_number() -> None:
    assert one_number(np.zeros(LEAST_SAMPLES)) == 0.0
    assert one_number(np.zeros(LEAST_SAMPLES - 1)) is None
    assert one_number(np.append(np.zeros(600), 1.0)) is None
    assert one_number(np.append(np.full(600, 180.0), np.nan)) == 180.0
    assert one_number(np.full(600, np.nan)) is None
    assert one_power_w(recording(AT_S, cadence=EVEN)) is None
