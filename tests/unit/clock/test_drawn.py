"""Lines as drawn: every sample stays, and nothing is drawn across what was not recorded."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wattwitness.clock.drawn import drawn_lines
from wattwitness.clock.grid import reference_samples
from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Pause, Recording, Source

SOURCE = Source(file_name="invented.fit", sha256="0" * 64, size_bytes=1, format_name="fit")


def recording(
    *, time_s: FloatArray, channels: dict[ChannelName, FloatArray], pauses: tuple[Pause, ...] = ()
) -> Recording:
    return Recording(source=SOURCE, time_s=time_s, dated=True, channels=channels, pauses=pauses)


def test_every_sample_is_drawn_and_a_gap_is_one_break() -> None:
    time_s = np.array([100.0, 101.0, 102.0, 150.0, 151.0])
    power_w = np.array([200.0, 900.0, 210.0, 220.0, 230.0])
    (line,) = drawn_lines(
        reference_samples(recording(time_s=time_s, channels={ChannelName.POWER: power_w})),
        event_driven=False,
        spot=False,
    )
    assert line.time_s.tolist() == [0.0, 1.0, 2.0, 26.0, 50.0, 51.0]
    assert np.isnan(line.values[3])
    assert line.values[np.isfinite(line.values)].tolist() == power_w.tolist()


def test_a_pause_breaks_the_line_however_short() -> None:
    given_one = recording(
        time_s=np.arange(6.0), channels={ChannelName.POWER: np.full(6, 200.0)}, pauses=(Pause(start_s=2.2, end_s=2.8),)
    )
    (line,) = drawn_lines(reference_samples(given_one), event_driven=False, spot=False)
    assert line.time_s[np.isnan(line.values)].tolist() == [2.5]


def test_a_missing_value_is_a_break_and_no_zero() -> None:
    power_w = np.array([200.0, 200.0, np.nan, 200.0, 200.0, 200.0])
    (line,) = drawn_lines(
        reference_samples(recording(time_s=np.arange(6.0), channels={ChannelName.POWER: power_w})),
        event_driven=False,
        spot=False,
    )
    assert line.time_s[np.isnan(line.values)].tolist() == [2.0]
    assert not np.any(line.values == 0)


def test_spot_readings_are_joined_by_nothing() -> None:
    given_one = recording(time_s=np.array([0.0, 60.0, 120.0]), channels={ChannelName.POWER: np.array([1.0, 2.0, 3.0])})
    (line,) = drawn_lines(reference_samples(given_one), event_driven=False, spot=True)
    assert np.isnan(line.values).sum() == 2


def test_a_channel_without_a_sample_gives_no_line() -> None:
    given_one = recording(
        time_s=np.arange(4.0), channels={ChannelName.POWER: np.full(4, 1.0), ChannelName.CADENCE: np.full(4, np.nan)}
    )
    lines = drawn_lines(reference_samples(given_one), event_driven=False, spot=False)
    assert [line.name for line in lines] == [ChannelName.POWER]


@given(st.lists(st.floats(0.2, 40.0), min_size=1, max_size=60), st.integers(0, 2**31))
def test_times_increase_and_no_value_is_invented(steps: list[float], seed: int) -> None:
    time_s = np.concatenate(([0.0], np.cumsum(steps)))
    values = np.random.default_rng(seed).integers(0, 1500, time_s.size).astype(float)
    (line,) = drawn_lines(
        reference_samples(recording(time_s=time_s, channels={ChannelName.POWER: values})),
        event_driven=False,
        spot=False,
    )
    assert np.all(np.diff(line.time_s) > 0)
    assert line.values[np.isfinite(line.values)].tolist() == values.tolist()
