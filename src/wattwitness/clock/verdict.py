"""What a search of one channel amounts to."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from wattwitness.clock.quiet import only_great_changes_match, varies
from wattwitness.clock.search import Search
from wattwitness.model.recording import ChannelName

LEAST_EVIDENCE = {ChannelName.CADENCE: 28.0, ChannelName.POWER: 28.0, ChannelName.HEART_RATE: 45.0}
"""Log likelihood ratio at one lag that unrelated rides do not reach: over all lags of 150 unrelated one-hour pairs the
largest was 23 on cadence and 26 on power (two riders of one interval plan apart, which the rivals show up)."""

EVIDENCE_A_JUMP = 14.0
"""More evidence asked for each jump: unrelated rides fit better where the lag may change."""

LEAST_RIVAL_T = 3.3
"""Standard errors by which the best offset has to beat every other."""


class Verdict(StrEnum):
    """``CLEAR`` one offset; ``MANY`` several fit; ``NOTHING`` both vary and differ; ``FLAT`` too little varies."""

    CLEAR = "clear"
    MANY = "many"
    NOTHING = "nothing"
    FLAT = "flat"


def verdict(search: Search) -> Verdict:
    """Judge one channel's search."""
    along = 0.5 * float((np.maximum(search.t_along, 0) ** 2).sum())
    along -= EVIDENCE_A_JUMP * max(len(search.stretches) - 1, 0)
    least = LEAST_EVIDENCE.get(search.channel, 28.0)
    strong = bool(search.stretches) and (search.evidence >= least or along >= 1.25 * least)
    if strong and search.channel != ChannelName.HEART_RATE and only_great_changes_match(search):
        return Verdict.NOTHING
    if strong:
        return Verdict.CLEAR if nearest_rival_t(search) >= LEAST_RIVAL_T else Verdict.MANY
    if varies(search.reference.filled, search.channel) and varies(search.unit.filled, search.channel):
        return Verdict.NOTHING
    return Verdict.FLAT


def nearest_rival_t(search: Search) -> float:
    """Standard errors by which the best offset beats the next; infinite without any."""
    return search.rivals[0].t if search.rivals else float("inf")


def supports(cadence: Search, power: Search, within_s: int) -> bool:
    """Whether the cadence too has evidence near the offset at which the power was found."""
    if cadence.stretches and only_great_changes_match(cadence):
        return False
    lags = {one.first_lag for one in power.stretches}
    first = int(cadence.found.lags[0])
    best = 0.0
    for lag in lags:
        low, high = lag - within_s - first, lag + within_s + 1 - first
        best = max(best, float(cadence.found.score[max(low, 0) : max(high, 0)].max(initial=0.0)))
    return best >= LEAST_SUPPORT


LEAST_SUPPORT = 14.0
"""Evidence near a given lag that chance seldom gives: over as many lags it stays below 10."""
