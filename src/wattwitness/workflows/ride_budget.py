"""The uncertainty budget of one ride, and the bias with it."""

from __future__ import annotations

from dataclasses import replace

from wattwitness.model.agreement import OverallBias
from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Budget
from wattwitness.model.clock import ClockFit
from wattwitness.model.estimate import Estimate
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile
from wattwitness.reference.ride_budget import ride_budget
from wattwitness.reference.ride_facts import ride_facts
from wattwitness.stats.longrun import COSINES
from wattwitness.stats.quantiles import student_quantile


def budget_of_ride(
    reference_w: FloatArray,
    expected_w: FloatArray,
    compared_w: FloatArray,
    cadence_rpm: FloatArray,
    overall: OverallBias,
    clock: ClockFit,
    settings: CompareSettings,
    *,
    meters: tuple[MeterFile | None, MeterFile | None] = (None, None),
) -> Budget | None:
    """The budget of the bias, in percentage points; ``None`` where the bias was not assessed or has no bound.

    ``meters`` are the descriptions of reference and unit, where there are any.
    """
    bias = overall.bias_pct
    if bias.value is None or bias.high is None or not bias.high - bias.value < float("inf"):
        return None
    facts = ride_facts(
        reference_w=reference_w,
        expected_w=expected_w,
        compared_w=compared_w,
        cadence_rpm=cadence_rpm,
        clock_s=clock.standard_uncertainty_s,
        statistics_pct=(bias.high - bias.value) / student_quantile(bias.level, COSINES),
        statistics_degrees=float(COSINES),
    )
    return ride_budget(
        facts,
        reference=meters[0],
        unit=meters[1],
        given_pct=settings.reference_uncertainty_pct,
        level=settings.level,
    )


def with_budget(overall: OverallBias, budget: Budget | None, reference_meter: MeterFile | None) -> OverallBias:
    """The overall bias whose interval with the reference's uncertainty is that of the budget.

    An uncertainty that was given beats what a meter file claims.
    """
    bias = overall.bias_pct
    if budget is None or bias.value is None:
        return overall
    ratio = 1 + bias.value / 100
    claim = None if reference_meter is None else reference_meter.stated.get("claim")
    described = claim is not None and claim.says_size and overall.reference_uncertainty_origin != "given"
    return replace(
        overall,
        bias_with_reference_pct=Estimate(
            value=bias.value,
            low=max(bias.value - budget.expanded_pct, min(-100.0, bias.value)),
            high=bias.value + budget.expanded_pct,
            unit=bias.unit,
            level=bias.level,
        ),
        reference_uncertainty_pct=budget.reference_pct / ratio if ratio > 0 else overall.reference_uncertainty_pct,
        reference_uncertainty_origin=(
            f"budget of the meter described in {reference_meter.source}"
            if described and reference_meter is not None
            else overall.reference_uncertainty_origin
        ),
    )
