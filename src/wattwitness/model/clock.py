"""How one recording's clock maps onto another's."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName


class ClockStatus(StrEnum):
    """What became of the search for one clock."""

    FOUND = "found"
    FOUND_WITH_DELAY = "found_with_delay"
    AMBIGUOUS = "ambiguous"
    NO_COMMON_EFFORT = "no_common_effort"
    SAME_SOURCE = "same_source"
    BY_HAND = "by_hand"

    @property
    def usable(self) -> bool:
        """Whether the two recordings can be compared second by second on this clock."""
        return self in (ClockStatus.FOUND, ClockStatus.FOUND_WITH_DELAY, ClockStatus.BY_HAND)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockSegment:
    """A stretch of the unit's clock without a jump.

    For unit time stamps ``start_unit_s <= t < end_unit_s`` (as written in the file):
    ``t_ref = t + offset_s + drift_ppm * 1e-6 * (t - anchor_unit_s)``, on the reference's clock as written.
    The first segment starts at -inf and the last ends at +inf.
    """

    start_unit_s: float
    end_unit_s: float
    anchor_unit_s: float
    offset_s: float
    drift_ppm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockJump:
    """A change ``step_s`` of the seconds to add, ``at_s`` seconds after the reference's first sample.

    ``cause`` is a plain phrase where the files tell it ("the reference's recorder paused"), else empty.
    """

    at_s: Estimate
    step_s: Estimate
    cause: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockCandidate:
    """An offset that the efforts allow, with the normalised correlation (-1 to 1) they reach at it."""

    offset_s: float
    correlation: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockWindows:
    """The offset found in each window along the ride, for diagnosis.

    Shape (n,) each: ``at_s`` seconds after the reference's first sample, ``offset_s`` the seconds to add there,
    ``correlation`` reached. Windows that gave no answer are NaN.
    """

    at_s: FloatArray
    offset_s: FloatArray
    correlation: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("at_s", "offset_s", "correlation"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockFit:
    """The unit's clock against the reference's.

    ``offset_s`` is what must be added to the unit's time stamps, as written, to get the reference's, at the middle of
    the reference's ride; ``drift_ppm`` the change of that with time, negative where the unit's clock runs fast.
    ``standard_uncertainty_s`` is that of the offset (NaN where there is none). ``runner_up_ratio`` is the correlation
    of the next best offset over that of the best (0 to 1; NaN where unknown), ``candidates`` all plausible offsets,
    best first. ``channel`` is what the clock was read from (``None`` by hand or where nothing was shared). ``reason``
    is one plain sentence on the status. ``segments`` is empty unless the status is usable.
    """

    status: ClockStatus
    offset_s: Estimate
    drift_ppm: Estimate
    jumps: tuple[ClockJump, ...]
    segments: tuple[ClockSegment, ...]
    standard_uncertainty_s: float
    runner_up_ratio: float
    candidates: tuple[ClockCandidate, ...]
    channel: ChannelName | None
    windows: ClockWindows
    reason: str
