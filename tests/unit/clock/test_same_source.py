"""Copies of one recording are told from two witnesses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.clock.rides import recording, seen, varied
from wattwitness.clock.fit import fit_clock
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName, Recording

SECONDS = 2400


def original() -> Recording:
    time_s = np.arange(float(SECONDS))
    return recording(
        1.7e9 + time_s,
        dated=True,
        power=seen(varied(SECONDS, seed=1, level=200, spread=20), time_s, noise=4),
        cadence=seen(varied(SECONDS, seed=2), time_s),
        heart_rate=seen(varied(SECONDS, seed=3, level=140, spread=6, memory_s=60), time_s, noise=0.2),
    )


def test_the_same_samples_on_another_zero_are_one_source() -> None:
    """An export without a date, its first minutes cut."""
    made = original()
    copy = replace(
        made,
        dated=False,
        time_s=np.arange(SECONDS - 300.0),
        channels={name: values[300:] for name, values in made.channels.items()},
    )
    clock = fit_clock(made, copy)
    assert clock.status is ClockStatus.SAME_SOURCE
    assert clock.segments == ()
    assert clock.offset_s.value == pytest.approx(1.7e9 + 300, abs=0.1)


def test_rounding_thinning_and_odd_stamps_do_not_hide_a_copy() -> None:
    """Decimals against whole numbers, every fifth sample, stamps a fraction of a second apart."""
    made = original()
    rng = np.random.default_rng(4)
    power = made.channels[ChannelName.POWER] + rng.uniform(-0.4, 0.4, SECONDS)
    exact = replace(made, channels={**made.channels, ChannelName.POWER: np.round(power, 1)})
    kept = np.arange(2, SECONDS, 5)
    copy = replace(
        made,
        time_s=made.time_s[kept] + 0.31,
        channels={name: values[kept] for name, values in made.channels.items()},
    )
    assert fit_clock(exact, copy).status is ClockStatus.SAME_SOURCE


def test_a_copy_without_power_is_known_by_cadence_and_heart_rate() -> None:
    """Some formats leave power out."""
    made = original()
    copy = replace(made, channels={name: made.channels[name] for name in (ChannelName.CADENCE, ChannelName.HEART_RATE)})
    assert fit_clock(made, copy).status is ClockStatus.SAME_SOURCE


def test_two_recorders_that_share_sensors_but_not_power_are_two() -> None:
    """One strap and one cadence sensor on both, power from two meters."""
    made = original()
    time_s = np.arange(float(SECONDS))
    other = seen(varied(SECONDS, seed=1, level=200, spread=20), time_s, noise=4, seed=9) * 0.97
    second = replace(made, channels={**made.channels, ChannelName.POWER: np.round(other)})
    assert fit_clock(made, second).status is ClockStatus.FOUND


def test_one_shared_channel_is_not_enough_without_power() -> None:
    """Cadence alone from one sensor on two recorders proves nothing."""
    made = original()
    one = replace(made, channels={ChannelName.CADENCE: made.channels[ChannelName.CADENCE]})
    assert fit_clock(made, one).status is not ClockStatus.SAME_SOURCE
