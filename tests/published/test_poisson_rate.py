"""Exact interval of one Poisson rate: 15 in 400, as a general statistics package prints it (retrieved, recomputed)."""

from __future__ import annotations

import pytest

from wattwitness.conformity.fault_rate import rate_interval


def test_central_exact_interval() -> None:
    low, high = rate_interval(15, 400.0)
    assert low == pytest.approx(0.0209884653319583, rel=1e-12)
    assert high == pytest.approx(0.0618505471787146, rel=1e-12)


def test_no_fault_in_six_hours_shows_only_fewer_than_one_in_two() -> None:
    """The rule of three (common practice, no source): 3/6 an hour, one-sided."""
    assert rate_interval(0, 6.0, level=0.90)[1] == pytest.approx(0.5, abs=0.0008)
