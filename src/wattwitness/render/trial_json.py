"""The reference on trial as JSON: three meters together, and what the budget's schema and theirs say."""

from __future__ import annotations

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.three_meters import Closure, MeterOwnError, MetersTogether, OwnSpread
from wattwitness.render.json_values import JsonObject, json_estimate, json_number
from wattwitness.render.schema_words import (
    Schema,
    boolean_schema,
    integer_schema,
    list_schema,
    maybe_number_schema,
    number_schema,
    object_schema,
    one_of_schema,
    or_null_schema,
    ref_schema,
    text_schema,
)


def meters_to_json(together: MetersTogether | None) -> list[JsonObject]:
    """Each meter's own error by averaging time; empty with fewer than three recordings."""
    return [] if together is None else [_meter(meter) for meter in together.meters]


def together_to_json(together: MetersTogether | None) -> JsonObject | None:
    """What the meters' own errors rest on, and whether their biases close."""
    if together is None:
        return None
    return {
        "seconds": together.seconds,
        "closures": [_closure(closure) for closure in together.closures],
        "assumptions": list(together.assumptions),
        "warnings": list(together.warnings),
        "not_assessed": together.not_assessed or None,
        "why": together.why,
    }


def _meter(meter: MeterOwnError) -> JsonObject:
    return {
        "name": meter.name,
        "recording": meter.recording,
        "own_sd_pct": [_spread(spread, "pct") for spread in meter.spreads],
        "own_sd_w": [_spread(spread, "w") for spread in meter.spreads],
    }


def _spread(spread: OwnSpread, unit: str) -> JsonObject:
    estimate, variance = {
        "pct": (spread.own_sd_pct, spread.variance_pct2),
        "w": (spread.own_sd_w, spread.variance_w2),
    }[unit]
    found = json_estimate(estimate)
    return {
        "averaging_s": spread.averaging_s,
        **{key: found[key] for key in ("value", "low", "high", "level")},
        "not_assessed": found.get("not_assessed"),
        "variance": json_number(variance),
        "windows": spread.windows,
        "resolved": json_number(spread.resolved),
        "negative": spread.negative,
        "contradicted": spread.contradicted,
    }


def _closure(closure: Closure) -> JsonObject:
    return {
        "first": closure.first,
        "second": closure.second,
        "closure_pct": json_estimate(closure.closure_pct),
        "closes": closure.closes,
    }


def meters_schema() -> dict[str, Schema]:
    """The keys of three meters together at the top level."""
    own = object_schema(
        "A meter's own error in means of averaging_s seconds: a standard deviation over the ride.",
        averaging_s=integer_schema("Seconds of the means."),
        value=maybe_number_schema("The standard deviation; 0 where the variance came out negative."),
        low=maybe_number_schema("Low end of its interval."),
        high=maybe_number_schema("High end of its interval."),
        level=number_schema("How often such an interval holds the true value."),
        not_assessed={"type": ["string", "null"], "description": "The reason why there is none, or null."},
        variance=maybe_number_schema("The variance as computed, which may be negative."),
        windows=integer_schema("How many such means the ride holds."),
        resolved=maybe_number_schema("Part of their bandwidth, 0 to 1, that the other meters' responses leave."),
        negative=boolean_schema("Whether the variance came out negative."),
        contradicted=boolean_schema("Whether it is negative by more than chance: the errors are not independent."),
    )
    meter = object_schema(
        "One meter.",
        name=text_schema("What it is called."),
        recording=integer_schema("Its place in recordings, from 0."),
        own_sd_pct=list_schema(own, "In percent of power, by averaging time."),
        own_sd_w=list_schema(own, "In W, by averaging time."),
    )
    closure = object_schema(
        "Three biases around a triangle of the reference and two units.",
        first=integer_schema("Place of the first unit in recordings."),
        second=integer_schema("Place of the second unit in recordings."),
        closure_pct=ref_schema("estimate", "What their product differs from one."),
        closes=boolean_schema("Whether that is within its interval."),
    )
    together = object_schema(
        "What the meters' own errors rest on.",
        seconds=integer_schema("Seconds in which all of them showed more than 60 W."),
        closures=list_schema(closure, "Every triangle."),
        assumptions=list_schema(text_schema("A sentence."), "What the result stands on."),
        warnings=list_schema(text_schema("A sentence."), "What the data say against it."),
        not_assessed={"type": ["string", "null"], "description": "The reason why there is none, or null."},
        why=text_schema("That in a sentence; empty where there is a result."),
    )
    return {
        "meters": list_schema(meter, "Each meter's own error, with three recordings or more; else empty."),
        "meters_together": or_null_schema(together, "What that rests on; null with fewer than three recordings."),
    }


def budget_schema(what: str = "bias", expanded: str = "bias_with_reference_pct") -> Schema:
    """The schema of ``budget_to_json`` for what is uncertain, whose interval stands under ``expanded``."""
    contribution = object_schema(
        "One source of uncertainty.",
        name=text_schema("Stable name."),
        title=text_schema("In words."),
        unit=text_schema("Unit of its standard uncertainty."),
        standard_uncertainty=maybe_number_schema("Standard uncertainty in that unit."),
        sensitivity=maybe_number_schema(f"Percentage points of {what} for each unit of it."),
        distribution=one_of_schema(Distribution, "How it may lie around its estimate."),
        origin=one_of_schema(Origin, "How it is known."),
        source=text_schema("Where its size comes from."),
        degrees=maybe_number_schema("Degrees of freedom; null without bound."),
        common=boolean_schema("Whether it is the same error in every ride with this reference."),
        is_default=boolean_schema("Whether nobody stated it."),
        contribution_pct=maybe_number_schema("Sensitivity times standard uncertainty."),
    )
    return object_schema(
        f"What makes the {what} uncertain, in percentage points of it.",
        expanded_pct=maybe_number_schema(f"Half-width of the interval of {expanded}."),
        standard_pct=maybe_number_schema("Combined standard uncertainty (JCGM 100:2008, equation 10)."),
        level=number_schema("Level of the interval."),
        degrees=maybe_number_schema("Effective degrees of freedom; null without bound."),
        coverage_factor=maybe_number_schema("Expanded over standard."),
        monte_carlo_low_pct=maybe_number_schema("Low end of the deviation by propagating distributions (JCGM 101)."),
        monte_carlo_high_pct=maybe_number_schema("High end of the deviation by propagating distributions."),
        common_pct=maybe_number_schema("Standard uncertainty of what all rides with this reference share."),
        reference_pct=maybe_number_schema("Standard uncertainty of the reference meter itself."),
        contributions=list_schema(contribution, "Every contribution."),
        notes=list_schema(text_schema("A sentence."), "What is and what is not in it."),
    )
