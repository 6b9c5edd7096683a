"""A clock whose offset the tester gave."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from wattwitness.model.clock import ClockFit, ClockSegment, ClockStatus, ClockWindows
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import Recording

NEAR_S = 2.0
"""So far from what is found an offset by hand may be: it was read off whole seconds, and a display lags."""


def clock_by_hand(unit: Recording, offset_s: float, *, level: float = 0.95) -> ClockFit:
    """Return the clock that adds ``offset_s`` seconds to every time stamp of the unit, without drift or jumps.

    The number is taken as exact: its interval has no width, its standard uncertainty is unknown (NaN), and the reason
    says who gave it. Drift is not assessed (``given_by_hand``). Raises ValueError where ``offset_s`` is not finite.
    """
    if not math.isfinite(offset_s):
        raise ValueError("an offset by hand is a number of seconds")
    anchor_s = float(unit.time_s[unit.time_s.size // 2]) if unit.time_s.size else 0.0
    return ClockFit(
        status=ClockStatus.BY_HAND,
        offset_s=Estimate(value=offset_s, low=offset_s, high=offset_s, unit="s", level=level),
        drift_ppm=Estimate.missing("given_by_hand", "ppm", level),
        jumps=(),
        segments=(
            ClockSegment(
                start_unit_s=-math.inf, end_unit_s=math.inf, anchor_unit_s=anchor_s, offset_s=offset_s, drift_ppm=0.0
            ),
        ),
        standard_uncertainty_s=math.nan,
        runner_up_ratio=math.nan,
        candidates=(),
        channel=None,
        windows=ClockWindows(at_s=np.empty(0), offset_s=np.empty(0), correlation=np.empty(0)),
        reason="It was taken as exact, and not checked against the efforts.",
    )


def held_against(by_hand: ClockFit, found: ClockFit) -> ClockFit:
    """The clock by hand whose reason says what the program itself finds from the efforts; the number stays."""
    given_s, found_s = by_hand.offset_s.value, found.offset_s.value
    if not found.status.usable or given_s is None or found_s is None:
        return replace(by_hand, reason=f"It was taken as exact. The program itself finds no one clock: {found.reason}")
    apart_s = abs(given_s - found_s)
    near_s = max(NEAR_S, 3 * found.standard_uncertainty_s if math.isfinite(found.standard_uncertainty_s) else 0.0)
    verdict = "" if apart_s <= near_s else ": one of the two is wrong"
    said = f"The program itself finds {found_s:+.2f} s, {apart_s:.2f} s from it{verdict}."
    return replace(by_hand, reason=f"It was taken as exact. {said}")
