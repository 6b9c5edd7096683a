"""The published JSON Schema (draft 2020-12) of hanging weights."""

from __future__ import annotations

from wattwitness.model.hanging_weights import Side
from wattwitness.render.json_schema import SCHEMA_VERSION, estimate_schema, notice_schema
from wattwitness.render.schema_words import (
    Schema,
    constant_schema,
    integer_schema,
    list_schema,
    maybe_number_schema,
    number_schema,
    object_schema,
    one_of_schema,
    ref_schema,
    text_schema,
)
from wattwitness.render.trial_json import budget_schema


def weighing_schema() -> Schema:
    """The schema of what ``weighing_to_json`` gives."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:weighing:{SCHEMA_VERSION}",
        "title": "wattwitness hanging weights",
        **object_schema(
            "What known weights on the cranks say of meters. Torque is in N·m; null is missing, never zero.",
            schema_version=constant_schema(
                SCHEMA_VERSION, "Version of this form; it changes when a key changes meaning."
            ),
            version=text_schema("Version of the program that evaluated."),
            level=number_schema("How often an interval holds the true value."),
            weighings=list_schema(_weighing(), "One entry a worksheet, in the order of their dates.", least=1),
            drifts=list_schema(_drift(), "One entry for each meter that was weighed more than once."),
        ),
        "$defs": {
            "estimate": estimate_schema(),
            "notice": notice_schema(),
            "budget": budget_schema("slope", "gain_pct"),
        },
    }


def _weighing() -> Schema:
    return object_schema(
        "One worksheet.",
        meter=text_schema("What the worksheet calls the meter."),
        date={"type": ["string", "null"], "description": "Its date as year-month-day, or null."},
        source=text_schema("Name of the file."),
        gravity_m_s2=maybe_number_schema("Gravity that was counted, m/s²."),
        gravity_origin=text_schema("Where that comes from."),
        gain_pct=ref_schema("estimate", "Slope of reading over torque less one: of both sides, or of the one weighed."),
        correction_factor=ref_schema("estimate", "What the meter's power times this would be right by these weights."),
        side_difference_pct=ref_schema("estimate", "The gain of the left less that of the right."),
        sides=list_schema(_side(), "Each side that was weighed.", least=1),
        budget=ref_schema("budget", "What makes the gain of the whole meter uncertain."),
        notices=list_schema(ref_schema("notice"), "What should be known of the worksheet and its result."),
    )


def _side() -> Schema:
    return object_schema(
        "One side of the meter.",
        side=one_of_schema(Side, "Which side."),
        series=integer_schema("How many series of weights."),
        readings=integer_schema("How many readings of hung weights."),
        largest_nm=maybe_number_schema("The largest torque hung."),
        slope=maybe_number_schema("Reading over torque."),
        gain_pct=ref_schema("estimate", "That less one, with everything in its interval."),
        statistical_pct=maybe_number_schema("Standard uncertainty of it that the readings themselves show, %."),
        degrees=maybe_number_schema("Degrees of freedom of that; null without bound."),
        correction_factor=ref_schema("estimate", "What multiplies this side's power."),
        zero_nm=ref_schema("estimate", "What the unloaded meter showed before loading."),
        zero_shift_nm=ref_schema("estimate", "How far that had moved after."),
        linearity_pct=ref_schema(
            "estimate", "Largest departure of a load's mean from the line, % of the largest torque."
        ),
        hysteresis_pct=ref_schema("estimate", "Mean of unloading less loading, % of the largest torque."),
        repeatability_nm=ref_schema("estimate", "Standard deviation of a reading repeated."),
        position_pct=ref_schema(
            "estimate", "Standard deviation of the slope from position to position beyond what repeats explain."
        ),
        loads=list_schema(
            object_schema(
                "All readings at one load.",
                torque_nm=maybe_number_schema("Torque hung."),
                readings=integer_schema("How many readings."),
                departure_nm=maybe_number_schema("Their mean departure from the line."),
            ),
            "Departure from the line by load.",
        ),
        budget=ref_schema("budget", "What makes this side's gain uncertain."),
    )


def _drift() -> Schema:
    date = {"type": "string", "description": "As year-month-day; empty where the worksheet has none."}
    return object_schema(
        "What repeated weighings of one meter say of its own drift.",
        meter=text_schema("What the worksheets call the meter."),
        weighings=integer_schema("How many."),
        first_date={**date, "description": f"Date of the first. {date['description']}"},
        last_date={**date, "description": f"Date of the last. {date['description']}"},
        change_pct=ref_schema("estimate", "Gain of the last weighing less that of the first."),
        per_30_days_pct=ref_schema("estimate", "Slope of a line through all of them, over 30 days."),
        between_pct=ref_schema("estimate", "Standard deviation of the gain between weighings."),
    )
