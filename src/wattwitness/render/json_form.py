"""A comparison as JSON: for other programs, in the units its names say, unrounded, without serial numbers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from itertools import combinations

from wattwitness.model.agreement import OverallBias
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import Comparison, NotAssessed, OffsetRange, PairComparison, RecordingSummary
from wattwitness.model.inspection import Inspection, RecordingInspection
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.recording import Notice
from wattwitness.model.response import Response, ResponseFit
from wattwitness.model.settings import CompareSettings
from wattwitness.render.budget_json import budget_to_json
from wattwitness.render.faults_json import faults_to_json
from wattwitness.render.json_schema import SCHEMA_VERSION
from wattwitness.render.json_values import JsonObject, json_estimate, json_number, json_record
from wattwitness.render.trial_json import meters_to_json, together_to_json
from wattwitness.render.why_json import why_to_json

__all__ = [
    "comparison_text",
    "comparison_to_json",
    "inspections_text",
    "inspections_to_json",
]


def comparison_text(comparison: Comparison) -> str:
    """The comparison as indented JSON text; valid for every parser, so without NaN or infinity."""
    return json.dumps(comparison_to_json(comparison), indent=2, ensure_ascii=False, allow_nan=False)


def inspections_text(inspections: Sequence[Inspection]) -> str:
    """What files hold, as indented JSON text."""
    return json.dumps(inspections_to_json(inspections), indent=2, ensure_ascii=False, allow_nan=False)


def comparison_to_json(comparison: Comparison) -> JsonObject:
    """The first unit's answer at the top level, the other units' under ``others``, units against one another last.

    Raises ValueError for a comparison without a pair.
    """
    if not comparison.pairs:
        raise ValueError("a comparison holds at least one pair")
    first, *others = (_pair(pair, 0, place) for place, pair in enumerate(comparison.pairs, start=1))
    units = range(1, len(comparison.pairs) + 1)
    between = zip(comparison.between_units, combinations(units, 2), strict=True)
    return {
        "schema_version": SCHEMA_VERSION,
        "version": comparison.version,
        "settings": _settings(comparison.settings),
        "recordings": [
            recording_to_json(recording)
            for recording in (comparison.pairs[0].reference, *(pair.unit for pair in comparison.pairs))
        ],
        "meters": meters_to_json(comparison.meters),
        "meters_together": together_to_json(comparison.meters),
        **first,
        "others": others,
        "between_units": [_pair(pair, one, two) for pair, (one, two) in between],
    }


def inspections_to_json(inspections: Sequence[Inspection]) -> JsonObject:
    """Each file with every recording in it; a serial number stands there only if the inspection carries it."""
    return {"schema_version": SCHEMA_VERSION, "files": [_inspection(inspection) for inspection in inspections]}


def _inspection(inspection: Inspection) -> JsonObject:
    return {
        "file_name": inspection.file_name,
        "size_bytes": inspection.size_bytes,
        "sha256": inspection.sha256,
        "format": inspection.format_name,
        "recordings": [_inspected(recording) for recording in inspection.recordings],
    }


def _inspected(recording: RecordingInspection) -> JsonObject:
    meter = json_record(recording.meter)
    if not meter["serial"]:
        del meter["serial"]
    return {
        "part": recording.source.part,
        "part_label": recording.source.part_label,
        "meter": meter,
        "first_sample_utc": recording.first_sample_utc or None,
        "duration_s": json_number(recording.duration_s),
        "samples": recording.samples,
        "step_s": json_number(recording.step_s),
        "event_driven": recording.event_driven,
        "channels": {
            channel.name.value: {key: value for key, value in json_record(channel).items() if key != "name"}
            for channel in recording.channels
        },
        "gaps": [json_record(gap) for gap in recording.gaps],
        "pauses": [json_record(pause) for pause in recording.pauses],
        "notices": [_notice(notice) for notice in recording.notices],
    }


def _pair(pair: PairComparison, reference: int, unit: int) -> JsonObject:
    return {
        "reference": reference,
        "unit": unit,
        "clock": _clock(pair.clock),
        "response": _response_fit(pair.response),
        "common_seconds": int(pair.common_seconds),
        **_overall(pair.overall),
        "bias_range_pct": _offset_range(pair.offset_range),
        "halves": [json_record(item) for item in pair.halves],
        "blocks": [json_record(item) for item in pair.blocks],
        "power_bands": [json_record(item) for item in pair.power_bands],
        "cadence_bands": [json_record(item) for item in pair.cadence_bands],
        "efforts": [json_record(item) for item in pair.efforts],
        "trend": json_record(pair.trend),
        "power_line": None if pair.power_line is None else json_record(pair.power_line),
        "limits_of_agreement": [json_record(item) for item in pair.limits_of_agreement],
        "best_means": [json_record(item) for item in pair.best_means],
        "work": None if pair.work is None else json_record(pair.work),
        **why_to_json(pair),
        **faults_to_json(pair),
        "budget": None if pair.budget is None else budget_to_json(pair.budget),
        "setup_findings": [_notice(item) for item in pair.setup_findings],
        "not_assessed": [_not_assessed(item) for item in pair.not_assessed],
        "notices": [_notice(item) for item in pair.notices],
    }


def _settings(settings: CompareSettings) -> JsonObject:
    found = {item.name: getattr(settings, item.name) for item in fields(settings)}
    return {name: [_part(one) for one in value] if isinstance(value, tuple) else value for name, value in found.items()}


def _part(one: float | LeftOutStretch | None) -> float | JsonObject | None:
    return asdict(one) if isinstance(one, LeftOutStretch) else one


def recording_to_json(recording: RecordingSummary) -> JsonObject:
    """What was recorded. Serial numbers identify a person's device and are left out."""
    source, meter = recording.source, recording.meter
    return {
        "label": recording.label,
        "file_name": source.file_name,
        "sha256": source.sha256,
        "size_bytes": source.size_bytes,
        "format": source.format_name,
        "part": source.part,
        "part_label": source.part_label,
        "meter": {"maker": meter.maker, "product": meter.product, "firmware": meter.firmware},
        "first_sample_utc": recording.first_sample_utc or None,
        "duration_s": json_number(recording.duration_s),
        "samples": recording.samples,
        "step_s": json_number(recording.step_s),
        "event_driven": recording.event_driven,
        "channels": {name.value: count for name, count in recording.channels},
        "notices": [_notice(item) for item in recording.notices],
    }


def _clock(clock: ClockFit) -> JsonObject:
    return {
        "status": clock.status.value,
        "offset_s": json_estimate(clock.offset_s),
        "drift_ppm": json_estimate(clock.drift_ppm),
        "jumps": [json_record(jump) for jump in clock.jumps],
        "standard_uncertainty_s": json_number(clock.standard_uncertainty_s),
        "runner_up_ratio": json_number(clock.runner_up_ratio),
        "channel": None if clock.channel is None else clock.channel.value,
        "reason": clock.reason,
        "candidates": [json_record(candidate) for candidate in clock.candidates],
    }


def _response_fit(fit: ResponseFit) -> JsonObject:
    return {
        "reference": _response(fit.reference),
        "unit": _response(fit.unit),
        "criterion": [{"response": name, "value": json_number(value)} for name, value in fit.criterion],
    }


def _response(response: Response) -> JsonObject:
    return {
        "kind": response.kind.value,
        "width_s": json_estimate(response.width_s),
        "tau_s": json_estimate(response.tau_s),
        "delay_s": json_estimate(response.delay_s),
    }


def _overall(overall: OverallBias) -> JsonObject:
    return {
        "bias_pct": json_estimate(overall.bias_pct),
        "bias_with_reference_pct": json_estimate(overall.bias_with_reference_pct),
        "bias_bootstrap_pct": json_estimate(overall.bootstrap_pct),
        "bias_naive_pct": json_estimate(overall.naive_pct),
        "reference_uncertainty_pct": json_number(overall.reference_uncertainty_pct),
        "reference_uncertainty_origin": overall.reference_uncertainty_origin,
        "wander_time_s": json_number(overall.wander_time_s),
        "wander_pct": json_number(overall.wander_pct),
        "short_for_wander": overall.short_for_wander,
    }


def _offset_range(found: OffsetRange | None) -> JsonObject | None:
    if found is None:
        return None
    return {"low": json_number(found.low_pct), "high": json_number(found.high_pct), "offsets": found.offsets}


def _not_assessed(item: NotAssessed) -> JsonObject:
    return {"what": item.what, "slug": item.slug, "why": item.why}


def _notice(notice: Notice) -> JsonObject:
    return {
        "slug": notice.slug,
        "message": notice.message,
        "severity": notice.severity.value,
        "samples": notice.samples,
        "about": notice.about,
    }
