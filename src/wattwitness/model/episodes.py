"""Stretches in which the unit departs from its own behaviour, and what the witnesses say of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName


class EpisodeKind(StrEnum):
    """What is seen of the unit's number: it falls away or rises and comes back; shows one number on and on; has no
    sample; leaps for a moment; shows zero while the rider pedals; loses or repeats time; changes and stays changed.
    """

    DROP = "drop"
    SURGE = "surge"
    FROZEN = "frozen"
    MISSING = "missing"
    SPIKE = "spike"
    ZEROS = "zeros"
    CLOCK_JUMP = "clock_jump"
    STEP = "step"


class Finding(StrEnum):
    """Who is at fault: the unit, the reference, nobody since the rider eased off or pushed; or it cannot be told."""

    UNIT = "unit"
    REFERENCE = "reference"
    RIDER = "rider"
    UNDETERMINED = "undetermined"


class WitnessKind(StrEnum):
    """The independent channels that are asked."""

    REFERENCE = "reference"
    CADENCE = "cadence"
    RESISTANCE = "resistance"
    HEART_RATE = "heart_rate"
    OTHER_METER = "other_meter"
    SURFACE = "surface"


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """One channel's account of one episode.

    ``change`` is what the channel did in the episode against the time around it, in its own unit or in percent;
    ``expected_if_unit_right`` and ``expected_if_reference_right`` what it should have done under either meter's account
    (not assessed where it foretells nothing). ``log_odds`` is the natural logarithm of how much more likely what it
    shows is under the reference's account than under the unit's: positive speaks for the reference and against the
    unit, 0 says nothing. ``supports`` is the finding it speaks for by itself, ``UNDETERMINED`` where it does not;
    ``says`` one plain sentence with numbers. ``recorded_by`` names the meter whose channel it is.
    """

    kind: WitnessKind
    recorded_by: str
    change: Estimate
    expected_if_unit_right: Estimate
    expected_if_reference_right: Estimate
    log_odds: float
    supports: Finding
    says: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeartAccounts:
    """Heart rate around an episode (m,), and what either meter's account would have made it do; NaN where unknown."""

    time_s: FloatArray
    measured_bpm: FloatArray
    if_unit_right_bpm: FloatArray
    if_reference_right_bpm: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("time_s", "measured_bpm", "if_unit_right_bpm", "if_reference_right_bpm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Episode:
    """One stretch, in seconds after the reference's first sample; onset ``start_s`` and ``end_s`` at half depth.

    ``depth_pct`` is the change of the unit against what it should have shown by its own relation to the reference,
    negative for a drop; where the rider eased off, the change of the effort itself. ``energy_kj`` is what the unit's
    record lost by it, positive when lost, ``energy_share_pct`` in percent of the work of the whole ride. ``certainty``
    is the probability that it is no chance of noise and wander. ``lasts``: it goes on to the end of the recording.
    ``reason`` says in one sentence why the finding is what it is; ``odds`` how many to one the unit is at fault rather
    than the reference, all witnesses together (``None``: not weighed). ``before_ranks``: for each channel the share of
    the ride's minutes in which it was lower than in the minute before the onset.
    """

    kind: EpisodeKind
    start_s: float
    end_s: float
    depth_pct: Estimate
    energy_kj: Estimate
    energy_share_pct: float | None
    certainty: float
    finding: Finding
    reason: str
    witnesses: tuple[Witness, ...] = ()
    odds: float | None = None
    lasts: bool = False
    before_w: float | None = None
    before_rpm: float | None = None
    before_ranks: tuple[tuple[ChannelName, float], ...] = ()
    heart: HeartAccounts | None = None

    @property
    def duration_s(self) -> float:
        """Seconds from onset to end."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One question about several episodes: ``name`` (a slug), what was found in a sentence, and the probability of at
    least so much of a pattern by chance (``None`` where there are too few to tell).
    """

    name: str
    says: str
    chance: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaultsFound:
    """Every episode of one ride in order of time, and the bias with them left out.

    ``bias_without_pct`` is the bias over the seconds outside episodes with the finding unit, reference or undetermined;
    ``lost_kj`` the energy missing over all of the unit's (and undetermined) ones, ``hours`` how long both were
    recorded: no episode in so many hours is all that no episode shows. ``channels`` are those that could be asked.
    """

    episodes: tuple[Episode, ...]
    bias_without_pct: Estimate
    lost_kj: float
    hours: float
    channels: tuple[ChannelName, ...]
    patterns: tuple[Pattern, ...] = ()
