"""Numbers keep in JSON what they are known to."""

from __future__ import annotations

import math

import pytest

from wattwitness.model.estimate import Estimate
from wattwitness.render.json_values import json_estimate, json_number


def test_the_offset_of_an_undated_file_keeps_its_hundredths() -> None:
    estimate = Estimate(value=1626979976.2548, low=1626979976.1101, high=1626979976.3902, unit="s")
    shown = json_estimate(estimate)
    assert (shown["value"], shown["low"], shown["high"]) == (1626979976.2548, 1626979976.1101, 1626979976.3902)


@pytest.mark.parametrize("number", [0.0, 1e-7 / 3, -4.25 / 3, 999.123456789, 1234.5678912345, -1.6e9 / 3])
def test_no_number_loses_more_than_a_millionth(number: float) -> None:
    assert json_number(number) == pytest.approx(number, abs=5.1e-7)


def test_what_is_no_number_is_null() -> None:
    assert json_number(math.inf) is None
    assert json_number(math.nan) is None
    assert json_number(None) is None
