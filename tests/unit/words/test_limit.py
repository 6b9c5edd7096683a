"""A stated limit: compared before rounding, and never said more surely than the intervals allow."""

from __future__ import annotations

import pytest

from tests.factories import plain
from wattwitness.model.estimate import Estimate
from wattwitness.words.limit import limit_is_broken, limit_words


def bias(value: float, half_width: float) -> Estimate:
    return Estimate(value=value, low=value - half_width, high=value + half_width, unit="%")


MISSING = Estimate.missing("no_power", "%")


@pytest.mark.parametrize(
    ("value", "broken"), [(2.0, False), (2.0000001, True), (-2.04, True), (-1.99, False), (0, False)]
)
def test_the_measured_value_decides(value: float, broken: bool) -> None:
    assert limit_is_broken(bias(value, 0.5), 2.0) is broken


def test_nothing_measured_neither_keeps_nor_breaks() -> None:
    assert not limit_is_broken(MISSING, 2.0)
    words = plain(limit_words("Bike B", MISSING, MISSING, 2.0))
    assert (
        words == "Whether Bike B keeps the stated limit of ±2 % was not assessed: one of the recordings holds no power."
    )


@pytest.mark.parametrize(
    ("value", "own", "with_reference", "holds", "lacks"),
    [
        (-4.3, 0.5, 1.5, "also with the reference’s uncertainty counted", "could still reverse"),
        (-4.3, 0.5, 6.1, "a wrong reference could still reverse it", "also with"),
        (-2.2, 0.5, 6.1, "That is not certain: the interval, 1.7 to 2.7 % low, reaches inside the limit.", "agrees"),
        (0.1, 0.3, 1.0, "also with the reference’s uncertainty counted", "could still reverse"),
        (0.1, 0.3, 6.1, "a wrong reference could still reverse it", "also with"),
        (1.8, 0.5, 6.1, "reaches beyond the limit", "agrees"),
    ],
)
def test_how_sure_it_is(value: float, own: float, with_reference: float, holds: str, lacks: str) -> None:
    words = plain(limit_words("Bike B", bias(value, own), bias(value, with_reference), 2.0))
    assert holds in words
    assert lacks not in words
    assert words.startswith("Bike B breaks" if abs(value) > 2 else "Bike B keeps")


def test_a_value_just_beyond_is_not_rounded_onto_the_limit() -> None:
    words = plain(limit_words("Bike B", bias(2.04, 0.01), bias(2.04, 6.0), 2.0))
    assert "breaks the stated limit of ±2 % as measured: 2.04 % high" in words


def test_a_reference_without_uncertainty_is_said() -> None:
    words = plain(limit_words("Bike B", bias(-4.3, 0.5), Estimate.missing("reference_is_a_unit", "%"), 2.0))
    assert "the reference’s own uncertainty is not counted" in words


def test_the_limit_is_said_as_it_was_given() -> None:
    for given, said in ((0.7, "±0.7 %"), (0.63, "±0.63 %"), (1.25, "±1.25 %"), (2.0, "±2 %"), (10.0, "±10 %")):
        assert f"stated limit of {said} " in plain(limit_words("Bike B", bias(-0.5, 0.1), bias(-0.5, 6.0), given))
