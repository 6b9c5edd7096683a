"""The published JSON Schema (draft 2020-12) of a comparison: every key described, none that is not described."""

from __future__ import annotations

from dataclasses import fields

from wattwitness.model.agreement import EffortKind
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName, Severity
from wattwitness.model.response import ResponseKind
from wattwitness.model.settings import CompareSettings
from wattwitness.render.faults_json import faults_schema
from wattwitness.render.schema_words import (
    Schema,
    boolean_schema,
    constant_schema,
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
from wattwitness.render.trial_json import budget_schema, meters_schema
from wattwitness.render.why_json import why_schema

SCHEMA_VERSION = 1


def comparison_schema() -> Schema:
    """The schema of what ``comparison_to_json`` gives."""
    pair = _pair_keys()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:comparison:{SCHEMA_VERSION}",
        "title": "wattwitness comparison",
        **object_schema(
            "One or more units compared with a reference on one ride. The first unit's answer stands at the top level. "
            "Times are seconds after the reference's first sample, power is in W; null is missing, never zero.",
            schema_version=constant_schema(
                SCHEMA_VERSION, "Version of this form; it changes when a key changes meaning."
            ),
            version=text_schema("Version of the program that compared."),
            settings=_settings(),
            recordings=list_schema(
                ref_schema("recording"), "The reference first, then every unit in the order given.", least=2
            ),
            **meters_schema(),
            **pair,
            others=list_schema(ref_schema("pair"), "Every further unit against the reference, in the order given."),
            between_units=list_schema(
                ref_schema("pair"),
                "Every unit against every later one; reference is then the earlier unit, whose own uncertainty is "
                "not assessed.",
            ),
        ),
        "$defs": {
            "estimate": estimate_schema(),
            "response": _response(),
            "notice": notice_schema(),
            "recording": recording_schema(),
            "pair": object_schema("One unit against the reference.", **pair),
        },
    }


def _pair_keys() -> dict[str, Schema]:
    return {
        "reference": integer_schema("Place of the reference in recordings, from 0."),
        "unit": integer_schema("Place of the unit in recordings, from 0."),
        "clock": _clock(),
        "response": object_schema(
            "How each meter follows the effort, relative to the other: one of them is prompt.",
            reference=ref_schema("response", "The reference's response."),
            unit=ref_schema("response", "The unit's response."),
            criterion=list_schema(
                object_schema(
                    "One response tried.",
                    response=text_schema("What was tried."),
                    value=maybe_number_schema("Its information criterion; lower is better."),
                ),
                "Every response tried.",
            ),
        ),
        "common_seconds": integer_schema("Seconds in which both recorded what was compared."),
        "bias_pct": ref_schema(
            "estimate", "100·(sum of unit's power / sum of reference's − 1); its interval allows wander."
        ),
        "bias_with_reference_pct": ref_schema(
            "estimate", "The bias with the reference's own uncertainty in its interval."
        ),
        "bias_bootstrap_pct": ref_schema(
            "estimate", "The bias with a stationary bootstrap's interval, for comparison."
        ),
        "bias_naive_pct": ref_schema(
            "estimate", "The bias with seconds taken as independent: too narrow, shown to warn."
        ),
        "reference_uncertainty_pct": maybe_number_schema("Standard uncertainty of the reference that was counted, %."),
        "reference_uncertainty_origin": text_schema("Where that uncertainty comes from."),
        "wander_time_s": maybe_number_schema("Integral correlation time of the error."),
        "wander_pct": maybe_number_schema("Standard deviation of the error over 30 s means, %."),
        "short_for_wander": boolean_schema(
            "Whether the ride is too short for its wander, so that intervals are narrow."
        ),
        "bias_range_pct": or_null_schema(
            object_schema(
                "Bias over all plausible offsets where the clock is ambiguous: a range, not an interval.",
                low=maybe_number_schema("Lowest bias, %."),
                high=maybe_number_schema("Highest bias, %."),
                offsets=integer_schema("How many offsets were tried."),
            ),
            "The range of bias where the clock is ambiguous, else null.",
        ),
        "halves": list_schema(_period("One half of the common elapsed time."), "The halves; empty where not assessed."),
        "blocks": list_schema(_period("One block of the ride."), "The blocks; empty where not assessed."),
        **_band_keys(),
        "trend": _trend(),
        "power_line": or_null_schema(_power_line(), "The fitted line, null where not assessed."),
        "limits_of_agreement": list_schema(_limits(), "Limits of agreement by averaging window."),
        "best_means": list_schema(_best_mean(), "Best mean powers by duration."),
        "work": or_null_schema(
            object_schema(
                "Work over the common seconds.",
                reference_kj=maybe_number_schema("The reference's work, kJ."),
                unit_kj=maybe_number_schema("The unit's work, kJ."),
            ),
            "Total work, null where not assessed.",
        ),
        **why_schema(),
        **faults_schema(),
        "budget": or_null_schema(budget_schema(), "The uncertainty budget; null where the bias was not assessed."),
        "setup_findings": list_schema(ref_schema("notice"), "What was found in the setup on record of the two meters."),
        "not_assessed": list_schema(
            object_schema(
                "One part that is missing.",
                what=text_schema("The key of the part."),
                slug=text_schema("The reason, as a stable slug."),
                why=text_schema("The reason in a sentence."),
            ),
            "Every part of the answer that could not be given, and why. Missing is never a pass.",
        ),
        "notices": list_schema(ref_schema("notice"), "What was wrong in the files or should be known of a result."),
    }


def _band_keys() -> dict[str, Schema]:
    seconds = {
        "seconds": integer_schema("Seconds in it with power from both."),
        "reference_w": maybe_number_schema("Mean power of the reference, as the unit would show it, W."),
        "unit_w": maybe_number_schema("Mean power of the unit, W."),
        "bias_pct": ref_schema("estimate", "Bias in it."),
    }
    return {
        "power_bands": list_schema(
            object_schema(
                "One power band, entered by the 30 s mean.",
                low_w=number_schema("From, W."),
                high_w=number_schema("To below, W."),
                **seconds,
            ),
            "Power bands.",
        ),
        "cadence_bands": list_schema(
            object_schema(
                "One cadence band, entered by the 30 s mean.",
                low_rpm=number_schema("From, rpm."),
                high_rpm=number_schema("To below, rpm."),
                **seconds,
            ),
            "Cadence bands.",
        ),
        "efforts": list_schema(
            object_schema(
                "One kind of effort.", kind=one_of_schema(EffortKind, "Whether the effort held or changed."), **seconds
            ),
            "Steady and surging effort.",
        ),
    }


def _settings() -> Schema:
    def one(name: str, unit: str, meaning: str) -> Schema:
        words = meaning if unit == "1" else f"{meaning} In {unit}."
        if name == "offsets_s":
            return list_schema({"type": ["number", "null"], "description": "Seconds to add, or null."}, words)
        if name == "stretches_out":
            stretch = object_schema(
                "One stretch.",
                from_s=number_schema("Where it begins, in s after the reference's first sample."),
                to_s=number_schema("Where it ends."),
                reason=text_schema("The tester's reason."),
            )
            return list_schema(stretch, words)
        return {"type": ["number", "null"], "description": words}

    return object_schema(
        "The settings of this comparison.",
        **{
            item.name: one(item.name, item.metadata["unit"], item.metadata["meaning"])
            for item in fields(CompareSettings)
        },
    )


def recording_schema() -> Schema:
    """What stands under ``recording`` in the definitions; needs ``notice`` there too."""
    return object_schema(
        "What a recording holds. Serial numbers and positions are left out.",
        label=text_schema("The tester's name for the meter, else the file's."),
        file_name=text_schema("Name of the file, without folders."),
        sha256=text_schema("SHA-256 of the file's bytes, hexadecimal."),
        size_bytes=integer_schema("Length of the file."),
        format=text_schema("Its format."),
        part=integer_schema("Which of the recordings in the file, from 1."),
        part_label=text_schema("What tells the parts apart; empty where the file gave one."),
        meter=object_schema(
            "What the file says of the meter; empty where it says nothing.",
            maker=text_schema("Maker."),
            product=text_schema("Product."),
            firmware=text_schema("Firmware."),
        ),
        first_sample_utc={"type": ["string", "null"], "description": "Time of the first sample, ISO 8601; or null."},
        duration_s=maybe_number_schema("From the first to the last sample."),
        samples=integer_schema("How many samples."),
        step_s=maybe_number_schema("Median spacing of samples."),
        event_driven=boolean_schema("Whether the recorder wrote only when something changed."),
        channels={
            "type": "object",
            "description": "How many samples each channel holds.",
            "properties": {name.value: integer_schema(f"Samples of {name.value}.") for name in ChannelName},
            "additionalProperties": False,
        },
        notices=list_schema(ref_schema("notice"), "What was wrong in the file."),
    )


def _clock() -> Schema:
    return object_schema(
        "The unit's clock against the reference's.",
        status=one_of_schema(ClockStatus, "What became of the search for one clock."),
        offset_s=ref_schema(
            "estimate", "Seconds to add to the unit's time stamps at the middle of the reference's ride."
        ),
        drift_ppm=ref_schema("estimate", "Change of that with time; negative where the unit's clock runs fast."),
        jumps=list_schema(
            object_schema(
                "A change of the seconds to add.",
                at_s=ref_schema("estimate", "When, after the reference's first sample."),
                step_s=ref_schema("estimate", "By how much."),
                cause=text_schema("What the files tell of it, else empty."),
            ),
            "Jumps, in order of time.",
        ),
        standard_uncertainty_s=maybe_number_schema("Standard uncertainty of the offset."),
        runner_up_ratio=maybe_number_schema("Correlation at the next best offset over that at the best, 0 to 1."),
        channel={
            "enum": [*(name.value for name in ChannelName), None],
            "description": "The channel the clock was read from, or null.",
        },
        reason=text_schema("One sentence on the status."),
        candidates=list_schema(
            object_schema(
                "One plausible offset.",
                offset_s=maybe_number_schema("Seconds to add."),
                correlation=maybe_number_schema("Normalised correlation there, −1 to 1."),
            ),
            "All plausible offsets, best first.",
        ),
    )


def _response() -> Schema:
    return object_schema(
        "How a meter follows the effort.",
        kind=one_of_schema(ResponseKind, "Family of the response."),
        width_s=ref_schema("estimate", "Seconds of the trailing mean (kind mean)."),
        tau_s=ref_schema("estimate", "Time constant (kind exponential)."),
        delay_s=ref_schema("estimate", "Delay beyond the kernel's own mean lag."),
    )


def notice_schema() -> Schema:
    """The schema of a notice."""
    return object_schema(
        "Something a tester should know.",
        slug=text_schema("Stable name."),
        message=text_schema("One plain sentence."),
        severity=one_of_schema(Severity, "note for the record, warning where a result may depend on it."),
        samples={"type": ["integer", "null"], "description": "Samples it touched, or null."},
        about=text_schema("A file's name or a part of the result; may be empty."),
    )


def _period(words: str) -> Schema:
    return object_schema(
        words,
        start_s=number_schema("From, seconds after the reference's first sample."),
        end_s=number_schema("To, seconds after the reference's first sample."),
        seconds=integer_schema("Seconds in it with power from both."),
        reference_w=maybe_number_schema("Mean power of the reference, as the unit would show it, W."),
        unit_w=maybe_number_schema("Mean power of the unit, W."),
        bias_pct=ref_schema("estimate", "Bias in it."),
    )


def _trend() -> Schema:
    together, alone = "with the other two fitted together", "fitted alone"
    return object_schema(
        "Change of the bias, in percentage points, with power, cadence and time.",
        per_100_w=ref_schema("estimate", f"Per 100 W, {together}."),
        per_10_rpm=ref_schema("estimate", f"Per 10 rpm, {together}."),
        per_hour=ref_schema("estimate", f"Per hour, {together}."),
        alone_per_100_w=ref_schema("estimate", f"Per 100 W, {alone}."),
        alone_per_10_rpm=ref_schema("estimate", f"Per 10 rpm, {alone}."),
        alone_per_hour=ref_schema("estimate", f"Per hour, {alone}."),
        mixed=boolean_schema("Whether a trend over bands could come from the rider's mix of efforts."),
        why=text_schema("That in a sentence."),
    )


def _power_line() -> Schema:
    return object_schema(
        "The line through both meters' power, both with error: unit = zero + (1 + gain) * reference.",
        gain_pct=ref_schema("estimate", "Slope less one, percent."),
        zero_w=ref_schema("estimate", "Intercept, W."),
        low_w=maybe_number_schema("Lowest 30 s mean power it was fitted on, W."),
        high_w=maybe_number_schema("Highest 30 s mean power it was fitted on, W."),
    )


def _limits() -> Schema:
    return object_schema(
        "Within which 95 % of the differences unit minus reference fall, on windows that do not overlap.",
        window_s=integer_schema("Length of the windows."),
        windows=integer_schema("How many windows."),
        mean_w=ref_schema("estimate", "Mean difference, W."),
        low_w=ref_schema("estimate", "Lower limit, W."),
        high_w=ref_schema("estimate", "Upper limit, W."),
        mean_pct=ref_schema("estimate", "Mean difference, percent of the ride's mean reference power."),
        low_pct=ref_schema("estimate", "Lower limit, percent of the ride's mean reference power."),
        high_pct=ref_schema("estimate", "Upper limit, percent of the ride's mean reference power."),
    )


def _best_mean() -> Schema:
    return object_schema(
        "Best mean power over one duration; null where a gap hides it.",
        duration_s=integer_schema("Duration."),
        reference_w=maybe_number_schema("The reference's own best, as measured, W."),
        unit_w=maybe_number_schema("The unit's own best, W."),
        same_window_unit_w=maybe_number_schema("The unit in the reference's best window, W."),
        reference_through_response_w=maybe_number_schema("The reference there as the unit would show it, W."),
        reference_start_s=maybe_number_schema("Start of the reference's best window."),
        unit_start_s=maybe_number_schema("Start of the unit's best window."),
    )


def estimate_schema() -> Schema:
    """The schema of ``json_estimate``."""
    level = number_schema("How often such an interval holds the true value.")
    null: Schema = {"type": "null", "description": "Not assessed."}
    made = object_schema(
        "An estimate with its interval. An end without bound is null and named in open.",
        value=number_schema("The estimate."),
        low=maybe_number_schema("Lower end; null where there is no bound on that side."),
        high=maybe_number_schema("Upper end; null where there is no bound on that side."),
        level=level,
        unit=text_schema("Unit of value, low and high."),
        open={"enum": ["low", "high", "both"], "description": "Which end has no bound; left out where both have one."},
    )
    made["required"].remove("open")
    missing = object_schema(
        "An estimate that could not be made.",
        value=null,
        low=null,
        high=null,
        level=level,
        not_assessed=text_schema("The reason, as a stable slug."),
    )
    return {"description": "An estimate, or the reason why there is none.", "oneOf": [made, missing]}
