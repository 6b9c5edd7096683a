"""Seconds in and outside of episodes."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from typing import Protocol

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import Episode, Finding

AT_FAULT = (Finding.UNIT, Finding.REFERENCE, Finding.UNDETERMINED)
"""Findings by which a stretch says nothing of the unit's usual bias."""


class Lasting(Protocol):
    """Anything from ``start_s`` to ``end_s``."""

    @property
    def start_s(self) -> float:
        """When it begins, seconds after the reference's first sample."""

    @property
    def end_s(self) -> float:
        """When it is over."""


def seconds_within(time_s: FloatArray, stretches: Iterable[Lasting], *, margin_s: float = 0.0) -> BoolArray:
    """Which of the whole seconds ``time_s`` (n,) lie in one of ``stretches``, each widened by ``margin_s``."""
    inside = np.zeros(time_s.size, dtype=bool)
    if not time_s.size:
        return inside
    origin = float(time_s[0])
    for one in stretches:
        first = max(math.floor(one.start_s - margin_s - origin), 0)
        last = max(math.ceil(one.end_s + margin_s - origin), first)
        inside[first:last] = True
    return inside


def seconds_outside(
    time_s: FloatArray, episodes: Iterable[Episode], findings: Collection[Finding] = AT_FAULT
) -> BoolArray:
    """Which of the whole seconds ``time_s`` (n,) lie in no episode with one of ``findings``."""
    return ~seconds_within(time_s, (one for one in episodes if one.finding in findings))
