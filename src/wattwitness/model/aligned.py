"""Several recordings of one ride on one clock and one grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignedPair:
    """A reference and a unit on the reference's clock, one value a second.

    ``time_s`` has shape (n,): whole seconds after the reference's first sample, from 0 in steps of 1 s, over all that
    the reference recorded. Channels have shape (n,), NaN where that meter has no sample.
    """

    time_s: FloatArray
    reference: Mapping[ChannelName, FloatArray]
    unit: Mapping[ChannelName, FloatArray]

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        object.__setattr__(self, "time_s", frozen_floats(self.time_s))
        for side in ("reference", "unit"):
            channels = {name: frozen_floats(values) for name, values in getattr(self, side).items()}
            object.__setattr__(self, side, MappingProxyType(channels))
