"""Why the meters differ as JSON: the error's anatomy, its settling, the stories, and what the schema says of them."""

from __future__ import annotations

from dataclasses import fields

from wattwitness.model.anatomy import Anatomy, MeterSide, Story, StoryStatus
from wattwitness.model.comparison import PairComparison
from wattwitness.model.settling import Settling, TimeModel
from wattwitness.render.json_values import JsonObject, json_number, json_value
from wattwitness.render.schema_words import (
    Schema,
    list_schema,
    maybe_number_schema,
    number_schema,
    object_schema,
    one_of_schema,
    or_null_schema,
    ref_schema,
    text_schema,
)

ARRAYS = {"torque_nm", "at_s", "bias_pct", "fitted_pct", "probabilities"}


def why_to_json(pair: PairComparison) -> JsonObject:
    """The keys ``anatomy``, ``stories`` and ``settling`` of one unit."""
    return {
        "anatomy": None if pair.anatomy is None else _anatomy(pair.anatomy),
        "stories": [_story(story) for story in pair.stories],
        "settling": None if pair.settling is None else _settling(pair.settling),
    }


def _anatomy(anatomy: Anatomy) -> JsonObject:
    torques = [{"reference_nm": json_number(one), "unit_nm": json_number(other)} for one, other in anatomy.torque_nm]
    return {**_flat(anatomy), "torques": torques}


def _settling(settling: Settling) -> JsonObject:
    tried = [{"model": model.value, "probability": json_number(share)} for model, share in settling.probabilities]
    return {**_flat(settling), "probabilities": tried}


def _flat(result: Anatomy | Settling) -> JsonObject:
    """Everything but the arrays, under its own field names."""
    return {item.name: json_value(getattr(result, item.name)) for item in fields(result) if item.name not in ARRAYS}


def _story(story: Story) -> JsonObject:
    return {
        "name": story.name,
        "which_meter": story.which_meter.value,
        "status": story.status.value,
        "why": story.why,
        "misfit": json_number(story.misfit),
        "detail": story.detail,
        "told_apart_by": story.told_apart_by,
    }


def why_schema() -> dict[str, Schema]:
    """What ``why_to_json`` gives."""
    points = "percentage points"
    anatomy = object_schema(
        "The unit's torque against the reference's: unit = zero + (1 + gain) · reference. Where the bias changes along "
        "the ride, both are those of its end.",
        zero_nm=ref_schema("estimate", "The torque the unit adds at any torque, N·m."),
        gain_pct=ref_schema("estimate", "The share it adds at any torque, %."),
        zero_gain_correlation=maybe_number_schema("Of the two estimates; near −1 they cannot be told apart."),
        per_10_rpm_pct=ref_schema("estimate", f"Change of bias for 10 rpm at equal torque, {points}."),
        per_100_w_pct=ref_schema("estimate", f"Change of bias for 100 W at equal cadence, {points}."),
        up_minus_down_pct=ref_schema("estimate", f"Bias after the power rose less that after it fell, {points}."),
        left_share_pct=ref_schema("estimate", "Mean recorded left share, %."),
        per_left_point_pct=ref_schema("estimate", f"Change of bias for one point of left share, {points}."),
        median_zero_nm=maybe_number_schema("The zero of a line that a few stray stretches do not move, N·m."),
        median_gain_pct=maybe_number_schema("The gain of that line, %."),
        torques=list_schema(
            object_schema(
                "Means over a part of the ride.",
                reference_nm=number_schema("The reference's torque, N·m."),
                unit_nm=number_schema("The unit's torque, N·m."),
            ),
            "Parts of the ride sorted by torque.",
        ),
    )
    story = object_schema(
        "One account of why the meters differ.",
        name=text_schema("Its name."),
        which_meter=one_of_schema(MeterSide, "The meter it is about."),
        status=one_of_schema(StoryStatus, "Whether the ride's data allow it."),
        why=text_schema("The reason in plain words."),
        misfit=maybe_number_schema(
            "Probability of a disagreement at least this large if this story alone were true; null where not judged by "
            "a number."
        ),
        detail=text_schema("Its particular form; may be empty."),
        told_apart_by=text_schema("What would tell it from the other allowed ones; may be empty."),
    )
    return {
        "anatomy": or_null_schema(anatomy, "Zero and gain in the torque domain, and what else the bias goes with."),
        "stories": list_schema(story, "Accounts of the disagreement, those allowed first; empty where not assessed."),
        "settling": or_null_schema(_settling_schema(), "How the bias goes along the ride."),
    }


def _settling_schema() -> Schema:
    return object_schema(
        "How the bias goes along the ride, pacing and a bias that goes with power fitted beside it.",
        model={
            "enum": [*(model.value for model in TimeModel), None],
            "description": "The model found; confounded where time cannot be told from power; null where not assessed.",
        },
        why=text_schema("That in plain words."),
        tau_min=ref_schema("estimate", "Time constant of settling, min."),
        settled_at_min=ref_schema(
            "estimate", "When 95 % of the change are over, or when the step came: minutes after the first sample."
        ),
        start_bias_pct=ref_schema("estimate", "Bias at the beginning (before the step), %."),
        settled_bias_pct=ref_schema("estimate", "Bias it settles at (after the step; all along where constant), %."),
        end_bias_pct=ref_schema("estimate", "Bias at the end of the ride, %."),
        halves_change_pct=ref_schema("estimate", "Second half less first at equal power, percentage points."),
        halves_sentence=text_schema("That in plain words."),
        per_10_c_pct=ref_schema("estimate", "Change of bias for 10 °C, time left out, percentage points."),
        temperature_sentence=text_schema("That in plain words."),
        probabilities=list_schema(
            object_schema(
                "One model tried.",
                model=one_of_schema(TimeModel, "The model."),
                probability=maybe_number_schema("Its probability, power allowed for."),
            ),
            "Every model tried.",
        ),
    )
