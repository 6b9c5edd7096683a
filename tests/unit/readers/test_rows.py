"""From raw rows to a clean recording: values that are no measurements, and time stamps as recorders write them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike

from tests.unit.readers.reading import slugs
from wattwitness.model.errors import NoSamples
from wattwitness.model.recording import ChannelName, Pause, Recording, Source
from wattwitness.readers.build import RawRows, build_recording
from wattwitness.readers.plausible import clean_channel
from wattwitness.readers.spacing import find_gaps, is_event_driven

T0 = 1_700_000_000.0
SOURCE = Source(file_name="ride.csv", sha256="", size_bytes=1, format_name="csv")
RNG = np.random.default_rng(7)


def build(time_s: ArrayLike, power_w: ArrayLike, **others: ArrayLike) -> Recording:
    channels: Mapping[ChannelName, ArrayLike] = {
        ChannelName.POWER: power_w,
        **{ChannelName[name.upper()]: values for name, values in others.items()},
    }
    return build_recording(RawRows(time_s=time_s, dated=True, channels=channels), source=SOURCE)


def power_of(recording: Recording) -> list[float]:
    return [float(value) for value in recording.channels[ChannelName.POWER]]


@pytest.mark.parametrize(
    ("name", "raw", "clean", "slug"),
    [
        (ChannelName.POWER, 65535, np.nan, "no_value_codes"),
        (ChannelName.POWER, -1, np.nan, "no_value_codes"),
        (ChannelName.POWER, -40, np.nan, "negative_values"),
        (ChannelName.POWER, 47_000, np.nan, "implausible_values"),
        (ChannelName.POWER, np.inf, np.nan, "implausible_values"),
        (ChannelName.POWER, 0, 0, None),
        (ChannelName.POWER, 255, 255, None),
        (ChannelName.POWER, 2100, 2100, None),
        (ChannelName.CADENCE, 255, np.nan, "no_value_codes"),
        (ChannelName.CADENCE, 0, 0, None),
        (ChannelName.CADENCE, 251, np.nan, "implausible_values"),
        (ChannelName.HEART_RATE, 0, np.nan, "no_value_codes"),
        (ChannelName.HEART_RATE, 255, np.nan, "no_value_codes"),
        (ChannelName.HEART_RATE, 12, np.nan, "implausible_values"),
        (ChannelName.HEART_RATE, 191, 191, None),
        (ChannelName.TEMPERATURE, 127, np.nan, "no_value_codes"),
        (ChannelName.TEMPERATURE, -12, -12, None),
        (ChannelName.SPEED, 65.535, np.nan, "no_value_codes"),
        (ChannelName.LEFT_SHARE, 127, np.nan, "no_value_codes"),
        (ChannelName.RESISTANCE, 255, np.nan, "no_value_codes"),
        (ChannelName.TORQUE, -4, -4, None),
    ],
)
def test_what_is_no_measurement_is_missing_and_what_is_unusual_stays(
    name: ChannelName, raw: float, clean: float, slug: str | None
) -> None:
    values, notices = clean_channel(name, np.array([raw, np.nan]))
    np.testing.assert_array_equal(values, [clean, np.nan])
    assert [notice.slug for notice in notices] == ([] if slug is None else [slug])
    assert all(notice.samples == 1 for notice in notices)


def test_lone_spike_is_missing_and_a_sprint_stays() -> None:
    sprint = [400, 1100, 3100, 3200, 2400, 900]
    values, _ = clean_channel(ChannelName.POWER, np.array([200, 210, 3500, 205, 200, *sprint], dtype=float))
    np.testing.assert_array_equal(values, [200, 210, np.nan, 205, 200, *sprint])


def test_duplicate_times_become_their_mean_and_are_counted() -> None:
    recording = build([T0, T0 + 1, T0 + 1, T0 + 3], [100, 200, 220, 300], cadence=[80, np.nan, 90, 85])
    np.testing.assert_array_equal(recording.time_s - T0, [0, 1, 3])
    assert power_of(recording) == [100, 210, 300]
    np.testing.assert_array_equal(recording.channels[ChannelName.CADENCE], [80, 90, 85])
    assert slugs(recording)["duplicate_times"] == 1


def test_rows_that_came_late_are_put_in_order() -> None:
    recording = build(T0 + np.array([0, 1, 3, 2, 4]), [100, 101, 103, 102, 104])
    assert power_of(recording) == [100, 101, 102, 103, 104]
    assert slugs(recording) == {"time_reordered": 1}


def test_file_that_runs_backward_is_turned_around() -> None:
    recording = build(T0 + np.arange(50)[::-1], np.arange(50)[::-1] + 100.0)
    assert power_of(recording) == list(range(100, 150))


def test_clock_set_back_while_riding_keeps_the_order_of_the_file() -> None:
    """Sorting would interleave two different moments of the ride; nothing may be merged or mixed."""
    time_s = T0 + np.concatenate([np.arange(100), np.arange(70, 170)])
    power_w = 200 + RNG.normal(0, 20, 200).round()
    recording = build(time_s, power_w)
    np.testing.assert_array_equal(recording.time_s - T0, np.arange(200))
    assert power_of(recording) == list(power_w)
    assert slugs(recording) == {"clock_set_back": 100}


def test_clock_set_back_by_an_hour_between_fractions_of_seconds() -> None:
    time_s = T0 + np.concatenate([np.arange(5000), np.arange(5000) + 5000 - 3600 + 0.4])
    recording = build(time_s, 200 + RNG.normal(0, 20, 10_000))
    assert recording.time_s.size == 10_000
    assert recording.duration_s == pytest.approx(9999, abs=1)
    assert slugs(recording) == {"clock_set_back": 5000}


@pytest.mark.parametrize("away_s", [3600.0, -900.0, 40.0, -40.0])
@pytest.mark.parametrize("length", [2, 5, 60])
def test_stretch_whose_clock_jumps_away_and_back_is_put_back(away_s: float, length: int) -> None:
    """The file's order says where the rows belong; sorting would tear them out of the ride."""
    power_w = 200 + RNG.normal(0, 20, 2000).round()
    time_s = T0 + np.arange(2000.0)
    time_s[1200 : 1200 + length] += away_s
    recording = build(time_s, power_w)
    np.testing.assert_allclose(recording.time_s - T0, np.arange(2000))
    assert power_of(recording) == list(power_w)
    assert slugs(recording) == {"clock_jumped": length}


def test_single_wild_time_is_put_back_where_there_is_room_and_left_out_where_there_is_none() -> None:
    time_s = T0 + np.concatenate([np.arange(500.0), [4000.0], np.arange(501.0, 1000.0)])
    recording = build(time_s, np.arange(1000.0))
    assert power_of(recording) == list(range(1000))
    assert slugs(recording)["clock_jumped"] == 1
    time_s = T0 + np.concatenate([np.arange(500.0), [4000.0], np.arange(500.0, 1000.0)])
    recording = build(time_s, [*np.arange(500.0), 999.0, *np.arange(500.0, 1000.0)])
    assert power_of(recording) == list(range(1000))
    assert slugs(recording)["stray_times"] == 1


def test_pause_is_no_jump_and_nothing_is_moved() -> None:
    time_s = T0 + np.concatenate([np.arange(100.0), 1000 + np.arange(100.0)])
    recording = build(time_s, np.full(200, 200.0))
    np.testing.assert_array_equal(recording.time_s, time_s)
    assert recording.notices == ()


def test_shuffled_file_is_sorted_in_bounded_time() -> None:
    order = RNG.permutation(20_000)
    recording = build(T0 + order.astype(float), order % 400)
    assert power_of(recording) == [float(i % 400) for i in range(20_000)]


def test_pauses_are_dropped_where_the_clock_was_set_back() -> None:
    rows = RawRows(
        time_s=T0 + np.concatenate([np.arange(100), np.arange(70, 170)]),
        dated=True,
        channels={ChannelName.POWER: RNG.normal(200, 20, 200)},
    )
    recording = build_recording(rows, source=SOURCE, pauses=[Pause(start_s=T0 + 10, end_s=T0 + 20)])
    assert recording.pauses == ()


def test_block_written_twice_is_merged_not_moved_on() -> None:
    power_w = 200 + RNG.normal(0, 20, 100).round()
    time_s = T0 + np.concatenate([np.arange(100), np.arange(60, 100)])
    recording = build(time_s, np.concatenate([power_w, power_w[60:]]))
    np.testing.assert_array_equal(recording.time_s - T0, np.arange(100))
    assert power_of(recording) == list(power_w)
    assert slugs(recording)["duplicate_times"] == 40


@pytest.mark.parametrize("where", [0, 500, 999])
@pytest.mark.parametrize("years", [-34, 20])
def test_single_time_years_away_is_left_out(where: int, years: int) -> None:
    time_s = T0 + np.arange(1000.0)
    time_s[where] += years * 365.25 * 86400
    recording = build(time_s, np.full(1000, 200.0))
    assert recording.time_s.size == 999
    assert recording.duration_s <= 999
    assert slugs(recording)["stray_times"] == 1


def test_rows_without_a_time_are_left_out_and_counted() -> None:
    recording = build([T0, np.nan, T0 + 2, np.inf], [100, 110, 120, 130])
    assert power_of(recording) == [100, 120]
    assert slugs(recording) == {"time_missing": 2}


def test_ride_dated_in_the_future_is_kept_and_said() -> None:
    recording = build(4_000_000_000.0 + np.arange(10), np.full(10, 200.0))
    assert recording.time_s[0] == 4_000_000_000.0
    assert "dated_in_future" in slugs(recording)


@pytest.mark.parametrize("zero", [-62_135_596_800.0, 0.0, 631_065_600.0, 9e12])
def test_dates_of_a_clock_that_was_never_set_mean_nothing(zero: float) -> None:
    """Year 1, 1970, 1989, and milliseconds taken for seconds."""
    rows = RawRows(time_s=zero + 5 + np.arange(20), dated=True, channels={ChannelName.POWER: np.full(20, 200.0)})
    recording = build_recording(rows, source=SOURCE, pauses=[Pause(start_s=zero + 8, end_s=zero + 9)])
    assert not recording.dated
    np.testing.assert_array_equal(recording.time_s, np.arange(20))
    assert recording.pauses == (Pause(start_s=3, end_s=4),)
    assert "undated" in slugs(recording)


def test_pauses_outside_the_samples_are_dropped_and_overlapping_ones_joined() -> None:
    rows = RawRows(time_s=T0 + np.arange(100), dated=True, channels={ChannelName.POWER: np.full(100, 200.0)})
    given_pauses = [(-50, -40), (10, 20), (15, 30), (99, 120), (40, 40)]
    pauses = [Pause(start_s=T0 + a, end_s=T0 + b) for a, b in given_pauses]
    assert build_recording(rows, source=SOURCE, pauses=pauses).pauses == (Pause(start_s=T0 + 10, end_s=T0 + 30),)


def test_channel_without_a_value_is_dropped_and_a_file_without_any_is_an_error() -> None:
    recording = build(T0 + np.arange(3), [100, 110, 120], heart_rate=[0, 0, 0])
    assert not recording.has(ChannelName.HEART_RATE)
    assert ChannelName.HEART_RATE not in recording.channels
    with pytest.raises(NoSamples):
        build(T0 + np.arange(3), [np.nan, 65535, -1])


def test_notices_name_the_file_and_are_sentences() -> None:
    recording = build(T0 + np.array([0, 1, 1, 2, 3]), [65535, -5, 99_999, 200, 210])
    assert len(recording.notices) >= 4
    for notice in recording.notices:
        assert notice.about == "ride.csv"
        assert notice.message[0].isupper() or notice.message[0].isdigit()
        assert notice.message.endswith(".")
        assert notice.samples


@given(
    st.lists(
        st.tuples(
            st.one_of(st.floats(-1e3, 1e3), st.floats(allow_nan=True, allow_infinity=True)),
            st.one_of(st.floats(-10, 1000), st.floats(allow_nan=True, allow_infinity=True)),
        ),
        min_size=1,
        max_size=60,
    ),
    st.booleans(),
)
def test_any_rows_give_a_sound_recording_or_say_that_there_is_none(
    rows: list[tuple[float, float]], dated: bool
) -> None:
    time_s = np.array([row[0] for row in rows]) + (T0 if dated else 0.0)
    power_w = np.array([row[1] for row in rows])
    try:
        recording = build_recording(
            RawRows(time_s=time_s, dated=dated, channels={ChannelName.POWER: power_w}), source=SOURCE
        )
    except NoSamples:
        return
    values = recording.channels[ChannelName.POWER]
    assert values.size <= power_w.size
    assert np.all(np.diff(recording.time_s) > 0)
    present = values[np.isfinite(values)]
    assert np.all((present >= 0) & (present <= 5000))


def test_event_driven_recording_is_told_from_lost_samples_and_from_coarse_spacing() -> None:
    smart = np.cumsum(RNG.integers(1, 9, 400)).astype(float)
    even = np.arange(3600.0)
    losing = even[RNG.random(3600) > 0.2]
    stuttering = np.cumsum(RNG.choice([1.0, 2.0], 3000, p=[0.85, 0.15]))
    every_three = np.cumsum(RNG.choice([2.0, 3.0, 4.0], 400, p=[0.15, 0.8, 0.05]))
    assert is_event_driven(smart)
    assert [is_event_driven(t) for t in (even, losing, stuttering, every_three, even / 4, even[:5])] == [False] * 6


def test_gaps_leave_out_pauses_and_the_spacing_of_event_driven_recordings() -> None:
    time_s = np.concatenate([np.arange(10.0), 20 + np.arange(10.0), 100 + np.arange(10.0)])
    gaps = find_gaps(time_s, event_driven=False)
    assert [(gap.start_s, gap.length_s) for gap in gaps] == [(9, 11), (29, 71)]
    paused = find_gaps(time_s, event_driven=False, pauses=[Pause(start_s=30, end_s=100)])
    assert [gap.start_s for gap in paused] == [9]
    assert [gap.start_s for gap in find_gaps(time_s, event_driven=True)] == [29]
    assert find_gaps(np.array([1.0]), event_driven=False) == ()
