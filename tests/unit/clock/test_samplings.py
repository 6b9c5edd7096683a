"""Recordings at every spacing: the lag is still the clock's, and what sparse samples leave open is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.truth.clock_rides import FINE_S, MARGIN_S, Recorder, record, ride
from wattwitness.clock.fit import fit_clock
from wattwitness.model.arrays import IntArray
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName, Recording

OFFSET_S = 42.3


def thinned(made: Recording, kept: IntArray, *, event_driven: bool = False, spot: bool = False) -> Recording:
    return replace(
        made,
        time_s=made.time_s[kept],
        channels={name: values[kept] for name, values in made.channels.items()},
        event_driven=event_driven,
        spot=spot,
    )


def pair(*, step_s: float = 1.0, seed: int = 0) -> tuple[Recording, Recording]:
    """A group ride; the unit sampled every ``step_s``."""
    rng = np.random.default_rng(seed)
    effort = ride("group", rng, margin_s=MARGIN_S)
    unit = Recorder(offset_s=OFFSET_S, step_s=step_s)
    return record(effort, Recorder(), rng, margin_s=MARGIN_S), record(effort, unit, rng, margin_s=MARGIN_S)


@pytest.mark.parametrize("step_s", [0.25, 1.26])
def test_quicker_and_odd_steps_are_found(step_s: float) -> None:
    """4 Hz and every 1.26 s: nothing is cut to whole seconds."""
    clock = fit_clock(*pair(step_s=step_s))
    assert clock.status.usable
    assert clock.offset_s.value == pytest.approx(OFFSET_S, abs=0.15)


@pytest.mark.parametrize("exchanged", [False, True])
def test_every_third_second_is_found_with_its_reserve(exchanged: bool) -> None:
    """Whether three seconds are a mean or an instant cannot be seen: found with delay, the interval holds both."""
    a, b = pair()
    b = thinned(b, np.arange(0, b.time_s.size, 3))
    clock = fit_clock(b, a) if exchanged else fit_clock(a, b)
    truth = -OFFSET_S if exchanged else OFFSET_S
    low, high = clock.offset_s.low, clock.offset_s.high
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert low is not None
    assert high is not None
    assert low < truth - 0.5 < truth + 0.5 < high


def test_event_driven_samples_are_found() -> None:
    """One sample every 1 to 12 s."""
    a, b = pair(seed=3)
    steps = np.cumsum(np.random.default_rng(1).integers(1, 13, size=b.time_s.size))
    clock = fit_clock(a, thinned(b, steps[steps < b.time_s.size], event_driven=True))
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert clock.offset_s.value == pytest.approx(OFFSET_S, abs=2.5)
    assert clock.drift_ppm.not_assessed == "ride_too_short"
    assert clock.jumps == ()


def test_spot_readings_of_power_are_found_to_some_seconds() -> None:
    """A few readings a minute, noted by hand."""
    a, b = pair(seed=5)
    only = replace(b, channels={ChannelName.POWER: b.channels[ChannelName.POWER]})
    steps = np.cumsum(np.random.default_rng(2).integers(8, 22, size=b.time_s.size))
    clock = fit_clock(a, thinned(only, steps[steps < b.time_s.size], spot=True))
    assert clock.status is ClockStatus.FOUND_WITH_DELAY
    assert clock.offset_s.low is not None
    assert clock.offset_s.high is not None
    assert clock.offset_s.low <= OFFSET_S <= clock.offset_s.high
    assert clock.offset_s.value == pytest.approx(OFFSET_S, abs=8)


def test_the_grid_of_the_generator_is_fine_enough() -> None:
    """What these tests stand on: true time in steps far below those claimed."""
    assert FINE_S <= 0.15
