"""A channel as it is drawn: its own samples on the reference's time, with a break wherever nothing was recorded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.grid import PlacedSamples, joined_samples
from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnLine:
    """Points of a line, shape (k,) each, in the order of time; NaN in ``values`` breaks it."""

    name: ChannelName
    time_s: FloatArray
    values: FloatArray


def drawn_lines(placed: PlacedSamples, *, event_driven: bool, spot: bool) -> tuple[DrawnLine, ...]:
    """A line for each channel that has samples: every sample as it was written, none put between or left out.

    A spacing that is longer than usual for its channel, a pause or a jump of the clock is a break, by the rules of
    ``wattwitness.clock.grid``; ``spot`` readings are joined by no line.
    """
    lines = []
    for name, values in placed.channels.items():
        own = joined_samples(placed.time_s, values, placed.broken, event_driven=event_driven)
        if own.time_s.size == 0:
            continue
        breaks = np.flatnonzero(np.ones(max(own.time_s.size - 1, 0), dtype=np.bool_) if spot else ~own.joined)
        middle_s = (own.time_s[breaks] + own.time_s[breaks + 1]) / 2.0
        lines.append(
            DrawnLine(
                name=name,
                time_s=np.insert(own.time_s, breaks + 1, middle_s),
                values=np.insert(own.values, breaks + 1, np.nan),
            )
        )
    return tuple(lines)
