"""The exit status is never kinder than what was measured."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests import factories
from wattwitness.model.comparison import Comparison
from wattwitness.workflows.outcome import Outcome, outcome_of


@pytest.mark.parametrize(
    "make", [factories.ambiguous, factories.no_common_effort, factories.same_source], ids=lambda make: make.__name__
)
def test_without_a_clock_nothing_is_concluded(make: object) -> None:
    assert callable(make)
    assert outcome_of(make()) is Outcome.NOTHING_CONCLUDED


def test_a_clock_alone_is_something_produced() -> None:
    assert outcome_of(factories.reference_without_power()) is Outcome.PRODUCED


def test_an_offset_by_hand_that_leaves_nothing_in_common_concludes_nothing() -> None:
    pair = factories.by_hand().pairs[0]
    assert outcome_of(factories.comparison(pair)) is Outcome.PRODUCED
    assert outcome_of(factories.comparison(replace(pair, common_seconds=0))) is Outcome.NOTHING_CONCLUDED


def test_a_limit_on_power_that_was_not_measured_is_never_passed() -> None:
    pair = factories.reference_without_power().pairs[0]
    assert outcome_of(factories.comparison(pair, limit_pct=50.0)) is Outcome.NOTHING_CONCLUDED


@pytest.mark.parametrize(
    ("bias_pct", "limit_pct", "expected"),
    [
        (-4.3, 2.0, Outcome.LIMIT_BROKEN),
        (4.3, 2.0, Outcome.LIMIT_BROKEN),
        (2.0, 2.0, Outcome.PRODUCED),
        (2.0004, 2.0, Outcome.LIMIT_BROKEN),  # shown as 2.0, yet beyond: compared before it is rounded
        (-1.9996, 2.0, Outcome.PRODUCED),
    ],
)
def test_the_bias_is_compared_before_it_is_rounded(bias_pct: float, limit_pct: float, expected: Outcome) -> None:
    assert outcome_of(_with_bias(bias_pct, limit_pct)) is expected


def test_one_unit_beyond_the_limit_breaks_it_for_all() -> None:
    good = _with_bias(0.1, 2.0).pairs[0]
    bad = _with_bias(-7.0, 2.0).pairs[0]
    unmeasured = factories.reference_without_power().pairs[0]
    assert outcome_of(factories.comparison(good, bad, limit_pct=2.0)) is Outcome.LIMIT_BROKEN
    assert outcome_of(factories.comparison(unmeasured, bad, limit_pct=2.0)) is Outcome.LIMIT_BROKEN
    assert outcome_of(factories.comparison(good, unmeasured, limit_pct=2.0)) is Outcome.NOTHING_CONCLUDED


def _with_bias(bias_pct: float, limit_pct: float) -> Comparison:
    pair = factories.pair(bias=factories.percent(bias_pct))
    return factories.comparison(pair, limit_pct=limit_pct)
