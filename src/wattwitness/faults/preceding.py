"""What precedes an episode, as a place among all minutes of its ride: 0 the lowest power it holds, 1 the highest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.witnesses.ground import RunningMeans
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode
from wattwitness.model.recording import ChannelName

MINUTE_S = 60
ASKED = (ChannelName.CADENCE, ChannelName.TEMPERATURE, ChannelName.RESISTANCE)


def preceded(ride: RideForFaults, episodes: Sequence[Episode]) -> tuple[Episode, ...]:
    """``episodes`` with ``before_ranks``: power (by the reference), cadence, temperature, resistance, as recorded."""
    if not episodes:
        return ()
    channels = [(ChannelName.POWER, ride.expected_w)]
    for name in ASKED:
        recorded = [values for _, _, values in ride.channels(name)]
        if recorded:
            channels.append((name, max(recorded, key=lambda values: int(np.isfinite(values).sum()))))
    minutes = [(name, _minutes(values)) for name, values in channels]
    return tuple(replace(episode, before_ranks=_ranks(minutes, round(episode.start_s))) for episode in episodes)


def _minutes(values: FloatArray) -> FloatArray:
    """Mean of the minute before each second; NaN in the first one and beside gaps."""
    stop = np.arange(values.size)
    means = RunningMeans.of(values).mean(stop - MINUTE_S, stop)
    means[:MINUTE_S] = np.nan
    return means


def _ranks(minutes: Sequence[tuple[ChannelName, FloatArray]], second: int) -> tuple[tuple[ChannelName, float], ...]:
    found = []
    for name, means in minutes:
        value = means[second] if 0 <= second < means.size else np.nan
        known = means[np.isfinite(means)]
        if np.isfinite(value) and known.size and float(np.ptp(known)) > 0:
            below = np.sum(known < value) + 0.5 * np.sum(known == value)
            found.append((name, float(below / known.size)))
    return tuple(found)
