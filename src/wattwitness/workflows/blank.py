"""A comparison in which nothing is assessed yet: what stands where a part of the answer cannot be given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wattwitness.agreement.anatomy import nothing_taken_apart
from wattwitness.agreement.settling import nothing_settled
from wattwitness.model.agreement import BandTrend, OverallBias, PairSeries
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import NotAssessed, PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import Recording
from wattwitness.model.response import Response, ResponseFit, ResponseKind
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.summary import summarise

POWER_PARTS = (
    "bias_pct",
    "response",
    "halves",
    "blocks",
    "power_bands",
    "cadence_bands",
    "efforts",
    "trend",
    "limits_of_agreement",
    "best_means",
    "work",
    "anatomy",
    "stories",
    "settling",
    "episodes",
)


def blank_pair(
    reference: Recording, unit: Recording, clock: ClockFit, settings: CompareSettings, *, slug: str, why: str
) -> PairComparison:
    """Who was compared, on which clock, and nothing about power measured, for the reason ``slug``, said in ``why``.

    The files' own notices come along, each with the name of its file.
    """
    empty = np.empty(0)
    notices = tuple(
        replace(notice, about=notice.about or recording.source.file_name)
        for recording in (reference, unit)
        for notice in recording.notices
    )
    return PairComparison(
        reference=summarise(reference),
        unit=summarise(unit),
        clock=clock,
        response=_response(slug, settings.level),
        common_seconds=0,
        overall=_overall(slug, settings.level),
        offset_range=None,
        halves=(),
        blocks=(),
        power_bands=(),
        cadence_bands=(),
        efforts=(),
        trend=_trend(slug, why, settings.level),
        limits_of_agreement=(),
        best_means=(),
        work=None,
        series=PairSeries(
            time_s=empty,
            reference_w=empty,
            expected_w=empty,
            unit_w=empty,
            difference_pct=empty,
            reference_rpm=empty,
            unit_rpm=empty,
            reference_bpm=empty,
            unit_bpm=empty,
            reference_resistance=empty,
            unit_resistance=empty,
        ),
        anatomy=nothing_taken_apart(slug, settings.level),
        settling=nothing_settled(slug, settings.level),
        not_assessed=tuple(NotAssessed(what=what, slug=slug, why=why) for what in POWER_PARTS),
        notices=notices,
    )


def _response(slug: str, level: float) -> ResponseFit:
    missing = Estimate.missing(slug, "s", level)
    response = Response(kind=ResponseKind.NOT_ASSESSED, width_s=missing, tau_s=missing, delay_s=missing)
    return ResponseFit(reference=response, unit=response)


def _overall(slug: str, level: float) -> OverallBias:
    missing = Estimate.missing(slug, "%", level)
    return OverallBias(
        bias_pct=missing,
        bootstrap_pct=missing,
        naive_pct=missing,
        bias_with_reference_pct=missing,
        reference_uncertainty_pct=float("nan"),
        reference_uncertainty_origin="",
        wander_time_s=float("nan"),
        wander_pct=float("nan"),
        short_for_wander=False,
    )


def _trend(slug: str, why: str, level: float) -> BandTrend:
    missing = Estimate.missing(slug, "%", level)
    return BandTrend(
        per_100_w=missing,
        per_10_rpm=missing,
        per_hour=missing,
        alone_per_100_w=missing,
        alone_per_10_rpm=missing,
        alone_per_hour=missing,
        mixed=False,
        why=why,
    )
