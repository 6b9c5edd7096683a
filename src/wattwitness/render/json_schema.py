"""The published JSON Schema (draft 2020-12) of a comparison: every key described, none that is not described."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from wattwitness.model.agreement import EffortKind
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName, Severity
from wattwitness.model.response import ResponseKind
from wattwitness.model.settings import CompareSettings

SCHEMA_VERSION = 1
Schema = dict[str, Any]


def comparison_schema() -> Schema:
    """The schema of what ``comparison_to_json`` gives."""
    pair = _pair_keys()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:wattwitness:comparison:{SCHEMA_VERSION}",
        "title": "wattwitness comparison",
        **_object(
            "One or more units compared with a reference on one ride. The first unit's answer stands at the top level. "
            "Times are seconds after the reference's first sample, power is in W; null is missing, never zero.",
            schema_version=_constant(SCHEMA_VERSION, "Version of this form; it changes when a key changes meaning."),
            version=_text("Version of the program that compared."),
            settings=_settings(),
            recordings=_list(_ref("recording"), "The reference first, then every unit in the order given.", least=2),
            **pair,
            others=_list(_ref("pair"), "Every further unit against the reference, in the order given."),
            between_units=_list(
                _ref("pair"),
                "Every unit against every later one; reference is then the earlier unit, whose own uncertainty is "
                "not assessed.",
            ),
        ),
        "$defs": {
            "estimate": _estimate(),
            "response": _response(),
            "notice": _notice(),
            "recording": _recording(),
            "pair": _object("One unit against the reference.", **pair),
        },
    }


def _pair_keys() -> dict[str, Schema]:
    return {
        "reference": _integer("Place of the reference in recordings, from 0."),
        "unit": _integer("Place of the unit in recordings, from 0."),
        "clock": _clock(),
        "response": _object(
            "How each meter follows the effort, relative to the other: one of them is prompt.",
            reference=_ref("response", "The reference's response."),
            unit=_ref("response", "The unit's response."),
            criterion=_list(
                _object(
                    "One response tried.",
                    response=_text("What was tried."),
                    value=_maybe_number("Its information criterion; lower is better."),
                ),
                "Every response tried.",
            ),
        ),
        "common_seconds": _integer("Seconds in which both recorded what was compared."),
        "bias_pct": _ref("estimate", "100·(sum of unit's power / sum of reference's − 1); its interval allows wander."),
        "bias_with_reference_pct": _ref("estimate", "The bias with the reference's own uncertainty in its interval."),
        "bias_bootstrap_pct": _ref("estimate", "The bias with a stationary bootstrap's interval, for comparison."),
        "bias_naive_pct": _ref("estimate", "The bias with seconds taken as independent: too narrow, shown to warn."),
        "reference_uncertainty_pct": _maybe_number("Standard uncertainty of the reference that was counted, %."),
        "reference_uncertainty_origin": _text("Where that uncertainty comes from."),
        "wander_time_s": _maybe_number("Integral correlation time of the error."),
        "wander_pct": _maybe_number("Standard deviation of the error over 30 s means, %."),
        "short_for_wander": _boolean("Whether the ride is too short for its wander, so that intervals are narrow."),
        "bias_range_pct": _or_null(
            _object(
                "Bias over all plausible offsets where the clock is ambiguous: a range, not an interval.",
                low=_maybe_number("Lowest bias, %."),
                high=_maybe_number("Highest bias, %."),
                offsets=_integer("How many offsets were tried."),
            ),
            "The range of bias where the clock is ambiguous, else null.",
        ),
        "halves": _list(_period("One half of the common elapsed time."), "The halves; empty where not assessed."),
        "blocks": _list(_period("One block of the ride."), "The blocks; empty where not assessed."),
        **_band_keys(),
        "trend": _trend(),
        "power_line": _or_null(_power_line(), "The fitted line, null where not assessed."),
        "limits_of_agreement": _list(_limits(), "Limits of agreement by averaging window."),
        "best_means": _list(_best_mean(), "Best mean powers by duration."),
        "work": _or_null(
            _object(
                "Work over the common seconds.",
                reference_kj=_maybe_number("The reference's work, kJ."),
                unit_kj=_maybe_number("The unit's work, kJ."),
            ),
            "Total work, null where not assessed.",
        ),
        "not_assessed": _list(
            _object(
                "One part that is missing.",
                what=_text("The key of the part."),
                slug=_text("The reason, as a stable slug."),
                why=_text("The reason in a sentence."),
            ),
            "Every part of the answer that could not be given, and why. Missing is never a pass.",
        ),
        "notices": _list(_ref("notice"), "What was wrong in the files or should be known of a result."),
    }


def _band_keys() -> dict[str, Schema]:
    seconds = {
        "seconds": _integer("Seconds in it with power from both."),
        "reference_w": _maybe_number("Mean power of the reference, as the unit would show it, W."),
        "unit_w": _maybe_number("Mean power of the unit, W."),
        "bias_pct": _ref("estimate", "Bias in it."),
    }
    return {
        "power_bands": _list(
            _object(
                "One power band, entered by the 30 s mean.",
                low_w=_number("From, W."),
                high_w=_number("To below, W."),
                **seconds,
            ),
            "Power bands.",
        ),
        "cadence_bands": _list(
            _object(
                "One cadence band, entered by the 30 s mean.",
                low_rpm=_number("From, rpm."),
                high_rpm=_number("To below, rpm."),
                **seconds,
            ),
            "Cadence bands.",
        ),
        "efforts": _list(
            _object("One kind of effort.", kind=_one_of(EffortKind, "Whether the effort held or changed."), **seconds),
            "Steady and surging effort.",
        ),
    }


def _settings() -> Schema:
    def one(name: str, unit: str, meaning: str) -> Schema:
        words = meaning if unit == "1" else f"{meaning} In {unit}."
        if name == "offsets_s":
            return _list({"type": ["number", "null"], "description": "Seconds to add, or null."}, words)
        return {"type": ["number", "null"], "description": words}

    return _object(
        "The settings of this comparison.",
        **{
            item.name: one(item.name, item.metadata["unit"], item.metadata["meaning"])
            for item in fields(CompareSettings)
        },
    )


def _recording() -> Schema:
    return _object(
        "What a recording holds. Serial numbers and positions are left out.",
        label=_text("The tester's name for the meter, else the file's."),
        file_name=_text("Name of the file, without folders."),
        sha256=_text("SHA-256 of the file's bytes, hexadecimal."),
        size_bytes=_integer("Length of the file."),
        format=_text("Its format."),
        part=_integer("Which of the recordings in the file, from 1."),
        part_label=_text("What tells the parts apart; empty where the file gave one."),
        meter=_object(
            "What the file says of the meter; empty where it says nothing.",
            maker=_text("Maker."),
            product=_text("Product."),
            firmware=_text("Firmware."),
        ),
        first_sample_utc={"type": ["string", "null"], "description": "Time of the first sample, ISO 8601; or null."},
        duration_s=_maybe_number("From the first to the last sample."),
        samples=_integer("How many samples."),
        step_s=_maybe_number("Median spacing of samples."),
        event_driven=_boolean("Whether the recorder wrote only when something changed."),
        channels={
            "type": "object",
            "description": "How many samples each channel holds.",
            "properties": {name.value: _integer(f"Samples of {name.value}.") for name in ChannelName},
            "additionalProperties": False,
        },
        notices=_list(_ref("notice"), "What was wrong in the file."),
    )


def _clock() -> Schema:
    return _object(
        "The unit's clock against the reference's.",
        status=_one_of(ClockStatus, "What became of the search for one clock."),
        offset_s=_ref("estimate", "Seconds to add to the unit's time stamps at the middle of the reference's ride."),
        drift_ppm=_ref("estimate", "Change of that with time; negative where the unit's clock runs fast."),
        jumps=_list(
            _object(
                "A change of the seconds to add.",
                at_s=_ref("estimate", "When, after the reference's first sample."),
                step_s=_ref("estimate", "By how much."),
                cause=_text("What the files tell of it, else empty."),
            ),
            "Jumps, in order of time.",
        ),
        standard_uncertainty_s=_maybe_number("Standard uncertainty of the offset."),
        runner_up_ratio=_maybe_number("Correlation at the next best offset over that at the best, 0 to 1."),
        channel={
            "enum": [*(name.value for name in ChannelName), None],
            "description": "The channel the clock was read from, or null.",
        },
        reason=_text("One sentence on the status."),
        candidates=_list(
            _object(
                "One plausible offset.",
                offset_s=_maybe_number("Seconds to add."),
                correlation=_maybe_number("Normalised correlation there, −1 to 1."),
            ),
            "All plausible offsets, best first.",
        ),
    )


def _response() -> Schema:
    return _object(
        "How a meter follows the effort.",
        kind=_one_of(ResponseKind, "Family of the response."),
        width_s=_ref("estimate", "Seconds of the trailing mean (kind mean)."),
        tau_s=_ref("estimate", "Time constant (kind exponential)."),
        delay_s=_ref("estimate", "Delay beyond the kernel's own mean lag."),
    )


def _notice() -> Schema:
    return _object(
        "Something a tester should know.",
        slug=_text("Stable name."),
        message=_text("One plain sentence."),
        severity=_one_of(Severity, "note for the record, warning where a result may depend on it."),
        samples={"type": ["integer", "null"], "description": "Samples it touched, or null."},
        about=_text("A file's name or a part of the result; may be empty."),
    )


def _period(words: str) -> Schema:
    return _object(
        words,
        start_s=_number("From, seconds after the reference's first sample."),
        end_s=_number("To, seconds after the reference's first sample."),
        seconds=_integer("Seconds in it with power from both."),
        reference_w=_maybe_number("Mean power of the reference, as the unit would show it, W."),
        unit_w=_maybe_number("Mean power of the unit, W."),
        bias_pct=_ref("estimate", "Bias in it."),
    )


def _trend() -> Schema:
    together, alone = "with the other two fitted together", "fitted alone"
    return _object(
        "Change of the bias, in percentage points, with power, cadence and time.",
        per_100_w=_ref("estimate", f"Per 100 W, {together}."),
        per_10_rpm=_ref("estimate", f"Per 10 rpm, {together}."),
        per_hour=_ref("estimate", f"Per hour, {together}."),
        alone_per_100_w=_ref("estimate", f"Per 100 W, {alone}."),
        alone_per_10_rpm=_ref("estimate", f"Per 10 rpm, {alone}."),
        alone_per_hour=_ref("estimate", f"Per hour, {alone}."),
        mixed=_boolean("Whether a trend over bands could come from the rider's mix of efforts."),
        why=_text("That in a sentence."),
    )


def _power_line() -> Schema:
    return _object(
        "The line through both meters' power, both with error: unit = zero + (1 + gain) * reference.",
        gain_pct=_ref("estimate", "Slope less one, percent."),
        zero_w=_ref("estimate", "Intercept, W."),
        low_w=_maybe_number("Lowest 30 s mean power it was fitted on, W."),
        high_w=_maybe_number("Highest 30 s mean power it was fitted on, W."),
    )


def _limits() -> Schema:
    return _object(
        "Within which 95 % of the differences unit minus reference fall, on windows that do not overlap.",
        window_s=_integer("Length of the windows."),
        windows=_integer("How many windows."),
        mean_w=_ref("estimate", "Mean difference, W."),
        low_w=_ref("estimate", "Lower limit, W."),
        high_w=_ref("estimate", "Upper limit, W."),
        mean_pct=_ref("estimate", "Mean difference, percent of the ride's mean reference power."),
        low_pct=_ref("estimate", "Lower limit, percent of the ride's mean reference power."),
        high_pct=_ref("estimate", "Upper limit, percent of the ride's mean reference power."),
    )


def _best_mean() -> Schema:
    return _object(
        "Best mean power over one duration; null where a gap hides it.",
        duration_s=_integer("Duration."),
        reference_w=_maybe_number("The reference's own best, as measured, W."),
        unit_w=_maybe_number("The unit's own best, W."),
        same_window_unit_w=_maybe_number("The unit in the reference's best window, W."),
        reference_through_response_w=_maybe_number("The reference there as the unit would show it, W."),
        reference_start_s=_maybe_number("Start of the reference's best window."),
        unit_start_s=_maybe_number("Start of the unit's best window."),
    )


def _estimate() -> Schema:
    level = _number("How often such an interval holds the true value.")
    null: Schema = {"type": "null", "description": "Not assessed."}
    made = _object(
        "An estimate with its interval. An end without bound is null and named in open.",
        value=_number("The estimate."),
        low=_maybe_number("Lower end; null where there is no bound on that side."),
        high=_maybe_number("Upper end; null where there is no bound on that side."),
        level=level,
        unit=_text("Unit of value, low and high."),
        open={"enum": ["low", "high", "both"], "description": "Which end has no bound; left out where both have one."},
    )
    made["required"].remove("open")
    missing = _object(
        "An estimate that could not be made.",
        value=null,
        low=null,
        high=null,
        level=level,
        not_assessed=_text("The reason, as a stable slug."),
    )
    return {"description": "An estimate, or the reason why there is none.", "oneOf": [made, missing]}


def _object(description: str, **properties: Schema) -> Schema:
    return {
        "type": "object",
        "description": description,
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(items: Schema, description: str, *, least: int = 0) -> Schema:
    return {"type": "array", "description": description, "items": items, "minItems": least}


def _ref(name: str, description: str = "") -> Schema:
    reference: Schema = {"$ref": f"#/$defs/{name}"}
    return {**reference, "description": description} if description else reference


def _or_null(schema: Schema, description: str) -> Schema:
    return {"description": description, "anyOf": [schema, {"type": "null"}]}


def _one_of(kinds: type[ClockStatus | ResponseKind | EffortKind | Severity], description: str) -> Schema:
    return {"enum": [kind.value for kind in kinds], "description": description}


def _constant(value: int, description: str) -> Schema:
    return {"const": value, "description": description}


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def _integer(description: str) -> Schema:
    return {"type": "integer", "minimum": 0, "description": description}


def _number(description: str) -> Schema:
    return {"type": "number", "description": description}


def _maybe_number(description: str) -> Schema:
    return {"type": ["number", "null"], "description": description}


def _boolean(description: str) -> Schema:
    return {"type": "boolean", "description": description}
