"""Hanging weights as JSON: one entry a worksheet, and the drift of each meter weighed more than once."""

from __future__ import annotations

import json

from wattwitness.model.hanging_weights import SideResult, Weighing, WeighingReport
from wattwitness.render.budget_json import budget_to_json
from wattwitness.render.json_schema import SCHEMA_VERSION
from wattwitness.render.json_values import JsonObject, json_estimate, json_number, json_record, json_value


def weighing_text(report: WeighingReport) -> str:
    """The report as indented JSON text; valid for every parser, so without NaN or infinity."""
    return json.dumps(weighing_to_json(report), indent=2, ensure_ascii=False, allow_nan=False)


def weighing_to_json(report: WeighingReport) -> JsonObject:
    """The report under the names of its own fields."""
    return {
        "schema_version": SCHEMA_VERSION,
        "version": report.version,
        "level": report.level,
        "weighings": [_weighing(item) for item in report.weighings],
        "drifts": [json_record(item) for item in report.drifts],
    }


def _weighing(weighing: Weighing) -> JsonObject:
    return {
        "meter": weighing.meter,
        "date": weighing.date or None,
        "source": weighing.source,
        "gravity_m_s2": json_number(weighing.gravity_m_s2),
        "gravity_origin": weighing.gravity_origin,
        "gain_pct": json_estimate(weighing.gain_pct),
        "correction_factor": json_estimate(weighing.correction_factor),
        "side_difference_pct": json_estimate(weighing.side_difference_pct),
        "sides": [_side(item) for item in weighing.sides],
        "budget": budget_to_json(weighing.budget),
        "notices": [json_record(item) for item in weighing.notices],
    }


def _side(side: SideResult) -> JsonObject:
    plain = {
        name: json_value(getattr(side, name))
        for name in (
            "side",
            "series",
            "readings",
            "largest_nm",
            "slope",
            "gain_pct",
            "statistical_pct",
            "degrees",
            "correction_factor",
            "zero_nm",
            "zero_shift_nm",
            "linearity_pct",
            "hysteresis_pct",
            "repeatability_nm",
            "position_pct",
        )
    }
    return {**plain, "loads": [json_record(item) for item in side.loads], "budget": budget_to_json(side.budget)}
