"""What can still be said where the clock cannot be used: the reason, and the range of bias an ambiguous one allows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.clock.grid import align
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.comparison import OffsetRange, PairComparison
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.blank import blank_pair

MOST_OFFSETS_TRIED = 40


def pair_without_clock(
    reference: Recording, unit: Recording, clock: ClockFit, settings: CompareSettings
) -> PairComparison:
    """A pair whose clock is ambiguous, that shares no effort, or that is one recording twice.

    Where one of the two shows one number throughout, no offset fits better than another, so none gives a bias.
    """
    pair = blank_pair(reference, unit, clock, settings, slug=f"clock_{clock.status.value}", why=clock.reason)
    still = any(side.one_power_w is not None for side in (pair.reference, pair.unit))
    if clock.status is not ClockStatus.AMBIGUOUS or still:
        return pair
    return replace(pair, offset_range=_range_of_bias(reference, unit, clock, settings))


def _range_of_bias(
    reference: Recording, unit: Recording, clock: ClockFit, settings: CompareSettings
) -> OffsetRange | None:
    """Bias at each plausible offset, both meters taken as they are; ``None`` where no offset leaves common power."""
    if not (reference.has(ChannelName.POWER) and unit.has(ChannelName.POWER)):
        return None
    biases: list[float] = []
    for candidate in clock.candidates[:MOST_OFFSETS_TRIED]:
        by_hand = clock_by_hand(unit, candidate.offset_s, level=settings.level)
        pair = align(reference, unit, by_hand)
        reference_w, unit_w = pair.reference[ChannelName.POWER], pair.unit[ChannelName.POWER]
        both = np.isfinite(reference_w) & np.isfinite(unit_w)
        total_w = float(reference_w[both].sum())
        if total_w > 0:
            biases.append(100 * (float(unit_w[both].sum()) / total_w - 1))
    if not biases:
        return None
    return OffsetRange(low_pct=min(biases), high_pct=max(biases), offsets=len(biases))
