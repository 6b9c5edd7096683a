"""Stretches that the tester left out: taken out of what is compared, and told wherever a result stands on it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from wattwitness.faults.masking import seconds_within
from wattwitness.model.aligned import AlignedPair, Blend
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import FaultsFound, Finding
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.recording import ChannelName, Notice, Severity
from wattwitness.words.episodes import kind_words
from wattwitness.words.estimates import counted
from wattwitness.words.numbers import clock_time, quantity

MOST_SHARE = 0.5
"""Of a ride that may be left out with a plain note; more is a warning."""


def without_stretches(pair: AlignedPair, stretches: Sequence[LeftOutStretch]) -> AlignedPair:
    """The pair with the power of both missing in ``stretches``; the clock, cadence and heart rate keep all."""
    if not stretches:
        return pair
    inside = seconds_within(pair.time_s, stretches)
    return replace(
        pair,
        reference=_side(pair.reference, inside),
        unit=_side(pair.unit, inside),
        reference_blend=_blend(pair.reference_blend, inside),
        unit_blend=_blend(pair.unit_blend, inside),
    )


def faults_outside(faults: FaultsFound | None, stretches: Sequence[LeftOutStretch]) -> FaultsFound | None:
    """The episodes that do not lie in ``stretches`` for most of their length."""
    if faults is None or not stretches:
        return faults
    kept = tuple(one for one in faults.episodes if _share_inside(one.start_s, one.end_s, stretches) < MOST_SHARE)
    return faults if len(kept) == len(faults.episodes) else replace(faults, episodes=kept)


def episodes_told(faults: FaultsFound | None, stretches: Sequence[LeftOutStretch]) -> tuple[Notice, ...]:
    """A notice of the episodes that lie in ``stretches`` and are, or may be, the unit's; ``faults`` are of the whole.

    Whoever leaves a fault out must read that it is in no count.
    """
    episodes = () if faults is None else faults.episodes
    inside = [
        one
        for one in episodes
        if one.finding in (Finding.UNIT, Finding.UNDETERMINED)
        and _share_inside(one.start_s, one.end_s, stretches) >= MOST_SHARE
    ]
    if not inside:
        return ()
    each = "; ".join(
        f"{kind_words(one.kind)} at {clock_time(one.start_s)}, "
        f"{'put down to the unit' if one.finding is Finding.UNIT else 'unclear whose'}"
        for one in inside
    )
    message = f"In what was left out {'lies' if len(inside) == 1 else 'lie'} {counted(len(inside), 'episode')} ({each})"
    notice = Notice(
        slug="episodes_left_out",
        message=f"{message}: in no count of faults.",
        severity=Severity.WARNING,
        about="faults",
    )
    return (notice,)


def stretches_told(
    time_s: FloatArray, expected_w: FloatArray, compared_w: FloatArray, stretches: Sequence[LeftOutStretch]
) -> tuple[Notice, ...]:
    """One notice of what was left out, why, and what the bias would be with it; powers (n,) with nothing taken out."""
    if not stretches:
        return ()
    both = np.isfinite(expected_w) & np.isfinite(compared_w)
    inside = both & seconds_within(time_s, stretches)
    seconds, shared = int(inside.sum()), int(both.sum())
    share = seconds / shared if shared else math.nan
    each = "; ".join(f"{clock_time(one.from_s)} to {clock_time(one.to_s)} ({one.reason})" for one in stretches)
    total_w = float(expected_w[both].sum()) if shared else 0.0
    with_it = ""
    if total_w > 0:
        value = 100 * (float(compared_w[both].sum()) / total_w - 1)
        with_it = f" With it the bias would be {quantity(value, '%', signed=True)}."
    amount = f"{seconds} s in which both show power" + (f", {100 * share:.1f} % of them" if shared else "")
    notice = Notice(
        slug="left_out_by_tester",
        message=f"Left out by the tester: {each}. That is {amount}.{with_it}",
        severity=Severity.WARNING if not share <= MOST_SHARE else Severity.NOTE,
        about="bias_pct",
    )
    return (notice,)


def _side(channels: Mapping[ChannelName, FloatArray], inside: BoolArray) -> dict[ChannelName, FloatArray]:
    found = dict(channels)
    for name in (ChannelName.POWER, ChannelName.TORQUE):
        if name in found:
            found[name] = np.where(inside, np.nan, found[name])
    return found


def _blend(blend: Blend | None, inside: BoolArray) -> Blend | None:
    if blend is None:
        return None
    return Blend(since_s=np.where(inside, np.nan, blend.since_s), until_s=np.where(inside, np.nan, blend.until_s))


def _share_inside(start_s: float, end_s: float, stretches: Sequence[LeftOutStretch]) -> float:
    """Part of start to end that lies in the stretches; they may overlap, and then it is the more."""
    if end_s <= start_s:
        return float(any(one.from_s <= start_s < one.to_s for one in stretches))
    covered = sum(max(0.0, min(end_s, one.to_s) - max(start_s, one.from_s)) for one in stretches)
    return covered / (end_s - start_s)
