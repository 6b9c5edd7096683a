"""One channel searched for a common clock: what it found, and how far it can be believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.bands import octave_bands
from wattwitness.clock.evidence import Banded, Evidence, Weigher, redundancy, t_along
from wattwitness.clock.path import NO_LAG, Agreement, agreement, candidates, follow, peaks
from wattwitness.clock.rivals import Rival, along_path, rivals
from wattwitness.clock.sampling import Sampled, grid_start_s, main_part, sampled
from wattwitness.clock.segments import Stretch, stretches
from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.model.recording import ChannelName, Recording

LEAST_COMMON_S = 300
"""Seconds two recordings have to share before an offset between them means anything; half of a shorter ride."""


LEAST_STEP_S = {ChannelName.CADENCE: 4, ChannelName.POWER: 12, ChannelName.HEART_RATE: 25}
SPARSE_STEP_S = 8
"""Jumps smaller than this are not told from drift and smoothing; more where samples are sparse."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Search:
    """What one channel says. ``evidence`` is the best log likelihood ratio at one lag, ``total`` that of the whole
    path; ``stretches`` is empty where nothing was followed.
    """

    channel: ChannelName
    reference: Sampled
    unit: Sampled
    reference_bands: Banded
    unit_bands: Banded
    how: Agreement
    found: Evidence
    evidence: float
    total: float
    stretches: tuple[Stretch, ...]
    rivals: tuple[Rival, ...]
    t_along: FloatArray
    least_common_s: int

    @property
    def shorter_s(self) -> float:
        """Seconds that the shorter of both recordings has samples for."""
        return float(min(np.isfinite(side.filled).sum() for side in (self.reference, self.unit)))

    @property
    def offset_of_lag_s(self) -> float:
        """What turns a lag between the two grids into an offset between the two clocks."""
        return self.reference.start_s - self.unit.start_s


def sampled_pair(reference: Recording, unit: Recording, channel: ChannelName) -> tuple[Sampled, Sampled]:
    """Both sides of ``channel`` on whole seconds of their own clocks."""
    sides = []
    for recording in (reference, unit):
        start_s = grid_start_s(recording)
        last_s = float(recording.time_s[main_part(recording.time_s)][-1])
        seconds = int(np.ceil(last_s - start_s - 1e-6)) + 1
        sides.append(sampled(recording, channel, start_s, seconds))
    return sides[0], sides[1]


def search(reference: Recording, unit: Recording, channel: ChannelName) -> Search:
    """Look for one clock in ``channel``, which both recordings have."""
    a, b = sampled_pair(reference, unit, channel)
    bands_a, bands_b = (Banded(bands=x, has=y) for x, y in (octave_bands(a.filled), octave_bands(b.filled)))
    kappa = redundancy(bands_a, bands_b)
    least = int(min(LEAST_COMMON_S, bands_a.has.any(axis=0).sum() / 2, bands_b.has.any(axis=0).sum() / 2))
    found = Weigher(bands_b, bands_a.size, kappa).weigh(bands_a)
    best = peaks(found, least, 1)
    how = Agreement(correlation=np.zeros(kappa.shape), redundancy=kappa)
    total = 0.0
    cut: tuple[Stretch, ...] = ()
    others: tuple[Rival, ...] = ()
    if best:
        how, path, total = _followed(bands_a, bands_b, found, least, best[0][0], how)
        cut = stretches(bands_a, bands_b, path, how, _least_step_s(channel, a, b))
    along = np.zeros(kappa.shape)
    if cut:
        moved = along_path(bands_b, cut, bands_a.size)
        others = rivals(bands_a, moved, how, least)
        along = t_along(bands_a, moved, kappa)
    return Search(
        channel=channel,
        reference=a,
        unit=b,
        reference_bands=bands_a,
        unit_bands=bands_b,
        how=how,
        found=found,
        evidence=best[0][1] if best else 0.0,
        total=total,
        stretches=cut,
        rivals=others,
        t_along=along,
        least_common_s=least,
    )


def _least_step_s(channel: ChannelName, a: Sampled, b: Sampled) -> int:
    """The smallest jump believed; larger where samples are sparse."""
    sparse = any(np.isfinite(side.values).sum() < 0.6 * np.isfinite(side.filled).sum() for side in (a, b))
    return LEAST_STEP_S[channel] + (SPARSE_STEP_S if sparse else 0)


def _followed(
    a: Banded, b: Banded, found: Evidence, least: int, lag: int, how: Agreement
) -> tuple[Agreement, IntArray, float]:
    """Follow the lag along the ride, learning from each pass how the bands agree."""
    lags = candidates(a, b, found, how.redundancy, least)
    how = agreement(a, b, np.full(a.size, lag, dtype=np.int64), how.redundancy)
    path, total = follow(a, b, lags, how)
    how = agreement(a, b, path, how.redundancy)
    if np.ptp(path[path != NO_LAG]) > 2:
        path, total = follow(a, b, lags, how)
    return how, path, total
