"""Numbers as they are written: signs, units, rounding last."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.factories import plain
from wattwitness.words.numbers import (
    clock_time,
    decimals_for,
    long_duration,
    number,
    percent_level,
    quantity,
    seconds_offset,
    short_duration,
    size_words,
    stretch,
    typeset,
    utc_time,
)


@pytest.mark.parametrize(
    ("value", "decimals", "signed", "said"),
    [
        (4.25, 1, False, "4.2"),
        (-4.3, 1, False, "−4.3"),
        (4.3, 1, True, "+4.3"),
        (-0.04, 1, True, "0.0"),
        (0.0, 1, True, "0.0"),
        (-0.0, 0, False, "0"),
        (1234.5, 1, False, "1234.5"),
        (12345.6, 1, False, "12 345.6"),
        (9999.96, 1, False, "10 000.0"),
        (-1234567.0, 0, False, "−1 234 567"),
        (None, 1, False, "–"),
        (math.nan, 1, False, "–"),
        (math.inf, 1, True, "+∞"),
        (-math.inf, 1, False, "−∞"),
        (2.5e18, 1, False, "2.50 × 10^18"),
    ],
)
def test_a_number_is_written_with_true_signs(value: float | None, decimals: int, signed: bool, said: str) -> None:
    assert plain(number(value, decimals, signed=signed)) == said


@given(st.floats(allow_nan=False, allow_infinity=False), st.integers(0, 3))
def test_no_number_shows_a_hyphen_or_a_signed_zero(value: float, decimals: int) -> None:
    said = number(value, decimals, signed=True)
    assert "-" not in said
    if not said.strip("+−0. "):
        assert said[0] not in "+−"


def test_a_quantity_stays_on_one_line() -> None:
    assert plain(quantity(-4.3, "%")) == "−4.3 %"
    assert " " not in quantity(12345.0, "W")
    assert plain(quantity(None, "W")) == "–"
    assert plain(quantity(3.0, "", 0)) == "3"


@pytest.mark.parametrize(
    ("values", "apart_from", "decimals"),
    [
        ((-4.3, -4.8, -3.8), (), 1),
        ((0.04, 0.3), (), 2),
        ((0.0004,), (), 3),
        ((2.04,), (2.0,), 2),
        ((-2.04,), (2.0,), 2),
        ((2.0,), (2.0,), 1),
        ((math.inf, 1.2), (), 1),
        ((None,), (), 1),
    ],
)
def test_decimals_keep_a_value_apart_from_zero_and_from_a_limit(
    values: tuple[float, ...], apart_from: tuple[float, ...], decimals: int
) -> None:
    assert decimals_for(*values, apart_from=apart_from) == decimals


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "0:00:00"),
        (59.6, "0:01:00"),
        (3661, "1:01:01"),
        (-30, "−0:00:30"),
        (-0.2, "0:00:00"),
        (None, "–"),
        (math.nan, "–"),
    ],
)
def test_times_of_a_ride(seconds: float | None, said: str) -> None:
    assert clock_time(seconds) == said


def test_a_stretch_names_both_ends() -> None:
    assert stretch(600, 1200) == "0:10:00 to 0:20:00"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(1, "1 s"), (60, "1 min"), (90, "1 min 30 s"), (1200, "20 min"), (3600, "60 min")],
)
def test_durations_of_best_means(seconds: int, said: str) -> None:
    assert plain(short_duration(seconds)) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (45, "45 s"),
        (60, "1 min"),
        (750, "12 min 30 s"),
        (3720, "1 h 02 min"),
        (3599.6, "1 h 00 min"),
        (43200, "12 h 00 min"),
        (math.nan, "–"),
    ],
)
def test_lengths_of_rides(seconds: float, said: str) -> None:
    assert plain(long_duration(seconds)) == said


def test_levels_and_offsets() -> None:
    assert plain(percent_level(0.95)) == "95 %"
    assert plain(percent_level(0.999)) == "99.9 %"
    assert plain(seconds_offset(12.3)) == "+12.30 s"
    assert plain(seconds_offset(-3600.5)) == "−3600.50 s (−1:00:00)"
    assert plain(seconds_offset(1.7e9)) == "+1 700 000 000.00 s"
    assert plain(seconds_offset(None)) == "–"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("by +0.1 (-0.6 to -.7)", "by +0.1 (−0.6 to −.7)"),
        ("-3 W", "−3 W"),
        ("5-20 s, ride-2.fit, 2026-11-03", "5-20 s, ride-2.fit, 2026-11-03"),
        ("the rider's mix", "the rider’s mix"),
    ],
)
def test_sentences_of_other_rooms_get_true_signs(text: str, said: str) -> None:
    assert typeset(text) == said


def test_utc_times_are_written_as_people_do() -> None:
    assert utc_time("2026-11-03T09:02:11.000+00:00") == "2026-11-03 09:02:11 UTC"
    assert utc_time("2026-11-03T09:02:11.250+00:00") == "2026-11-03 09:02:11.250 UTC"
    assert utc_time("") == "–"


@pytest.mark.parametrize(
    ("value", "said"), [(0.0, "0"), (0.0049, "under 0.01"), (0.005, "0.01"), (0.25, "0.25"), (3.2, "3.20")]
)
def test_a_size_is_never_written_as_none_unless_it_is(value: float, said: str) -> None:
    assert size_words(value) == said
