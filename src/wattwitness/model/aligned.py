"""Several recordings of one ride on one clock and one grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.recording import ChannelName


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blend:
    """How a meter's power was put on the grid, shape (n,) each: seconds since the sample before each grid second and
    until the one after, between which a straight line was drawn. Both 0 where a sample was used as it is, or several
    were averaged; NaN where power is missing.
    """

    since_s: FloatArray
    until_s: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("since_s", "until_s"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignedPair:
    """A reference and a unit on the reference's clock, one value a second.

    ``time_s`` has shape (n,): whole seconds after the reference's first sample, from 0 in steps of 1 s, over all that
    the reference recorded. Channels have shape (n,), NaN where that meter has no sample. ``reference_blend`` and
    ``unit_blend`` say how power came onto the grid (``None``: unknown, or no power).
    """

    time_s: FloatArray
    reference: Mapping[ChannelName, FloatArray]
    unit: Mapping[ChannelName, FloatArray]
    reference_blend: Blend | None = None
    unit_blend: Blend | None = None

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        object.__setattr__(self, "time_s", frozen_floats(self.time_s))
        for side in ("reference", "unit"):
            channels = {name: frozen_floats(values) for name, values in getattr(self, side).items()}
            object.__setattr__(self, side, MappingProxyType(channels))
