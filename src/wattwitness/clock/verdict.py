"""What a search of one channel amounts to."""

from __future__ import annotations

import math
from enum import StrEnum

import numpy as np

from wattwitness.clock.quiet import only_great_changes_match, varies
from wattwitness.clock.search import Search
from wattwitness.model.recording import ChannelName

EVIDENCE_AT_600_S, EVIDENCE_A_FOLD = 22.0, 4.5
"""Log likelihood ratio at one lag that unrelated rides do not reach, at ten minutes and more for each e-fold of length:
over all lags of 100 unrelated pairs each, cadence and power reached at most 17 at 10 min, 22 at 20 min and 29 at one
hour, where the same ride seen twice reached more than 81 in 99 of 100."""

HEART_RATE_FACTOR = 1.5
"""Heart rates of any two riders rise and drift alike."""

EVIDENCE_A_JUMP = 14.0
"""More evidence asked for each jump: unrelated rides fit better where the lag may change."""

RIVAL_T, RIVAL_T_SHORT = 3.3, 2.2
"""Standard errors by which the best offset has to beat every other: from half an hour on, and at ten minutes, where the
scatter is taken over too few pieces to give more. Equal intervals leave rivals below 2."""

EQUAL_INTERVALS = 2.0
"""Times ``RIVAL_T`` up to which a rival may be that of equal intervals, which chance lets fall behind a little."""

LONG_S, SHORT_S = 1800.0, 600.0

CONCLUSIVE_S = 900.0
"""Shorter rides that do not match are no proof of two different rides."""


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
    least = _least_evidence(search)
    strong = bool(search.stretches) and (search.evidence >= least or along >= 1.25 * least)
    if strong and nearest_rival_t(search) < least_rival_t(search):
        return Verdict.MANY
    if strong and search.channel != ChannelName.HEART_RATE and only_great_changes_match(search):
        # Equal intervals hold nothing else to compare: where others fit almost as well, that is no proof of two rides.
        return Verdict.MANY if nearest_rival_t(search) < EQUAL_INTERVALS * least_rival_t(search) else Verdict.NOTHING
    if strong:
        return Verdict.CLEAR
    both_vary = varies(search.reference.filled, search.channel) and varies(search.unit.filled, search.channel)
    return Verdict.NOTHING if both_vary and search.shorter_s >= CONCLUSIVE_S else Verdict.FLAT


def _least_evidence(search: Search) -> float:
    folds = max(math.log(max(search.shorter_s, 1.0) / SHORT_S), -0.5)
    least = EVIDENCE_AT_600_S + EVIDENCE_A_FOLD * folds
    return least * HEART_RATE_FACTOR if search.channel == ChannelName.HEART_RATE else least


def least_rival_t(search: Search) -> float:
    """Standard errors by which the best offset has to beat the next."""
    share = math.log(max(search.shorter_s, SHORT_S) / SHORT_S) / math.log(LONG_S / SHORT_S)
    return RIVAL_T_SHORT + (RIVAL_T - RIVAL_T_SHORT) * min(share, 1.0)


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
