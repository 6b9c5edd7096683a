"""Quantiles against printed tables (from memory: any statistics textbook)."""

from __future__ import annotations

import pytest

from wattwitness.stats.quantiles import normal_quantile, student_quantile


def test_normal() -> None:
    assert normal_quantile(0.95) == pytest.approx(1.959964, abs=5e-7)
    assert normal_quantile(0.90) == pytest.approx(1.644854, abs=5e-7)


@pytest.mark.parametrize(("degrees", "expected"), [(1, 12.706), (6, 2.447), (16, 2.120), (30, 2.042)])
def test_student(degrees: int, expected: float) -> None:
    assert student_quantile(0.95, degrees) == pytest.approx(expected, abs=5e-4)
