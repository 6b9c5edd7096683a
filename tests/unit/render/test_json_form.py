"""The JSON form holds to its own published schema, strictly, and to the keys that others rely on."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from tests.factories import COMPARISONS, SERIAL, comparison, pair, percent
from wattwitness.model.comparison import Comparison
from wattwitness.model.estimate import Estimate
from wattwitness.render.json_form import comparison_text, comparison_to_json
from wattwitness.render.json_schema import comparison_schema
from wattwitness.render.schemas import schema_text

SCHEMA = comparison_schema()
VALIDATOR = Draft202012Validator(SCHEMA)


def parsed(made: Comparison) -> Any:
    """Through text and back, refusing what JSON does not have."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    return json.loads(comparison_text(made), parse_constant=refuse)


@pytest.mark.parametrize("make", list(COMPARISONS.values()), ids=list(COMPARISONS))
def test_every_comparison_holds_to_the_schema(make: Any) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(parsed(make()))] == []


def test_the_schema_is_one_and_is_what_is_published() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert json.loads(schema_text()) == SCHEMA


def test_a_key_nobody_described_is_refused() -> None:
    for place in ((), ("clock",), ("bias_pct",), ("halves", 0), ("recordings", 0)):
        found = parsed(comparison())
        inner = found
        for step in place:
            inner = inner[step]
        inner["unheard_of"] = 1
        assert not VALIDATOR.is_valid(found), place


def test_a_key_left_out_is_refused() -> None:
    for key in SCHEMA["required"]:
        found = parsed(comparison())
        del found[key]
        assert not VALIDATOR.is_valid(found), key


def test_every_key_is_described() -> None:
    def check(node: Any, path: str) -> None:
        for name, schema in node.get("properties", {}).items():
            assert schema.get("description"), f"{path}.{name}"
            check(schema, f"{path}.{name}")
        for inner in (node.get("items"), *node.get("oneOf", ()), *node.get("anyOf", ())):
            if isinstance(inner, dict):
                check(inner, path)

    check(SCHEMA, "")
    for name, node in SCHEMA["$defs"].items():
        check(node, name)


def test_the_keys_that_outside_checks_rely_on() -> None:
    found = parsed(COMPARISONS["with_jumps"]())
    estimates = [
        found["clock"]["offset_s"],
        found["clock"]["drift_ppm"],
        found["clock"]["jumps"][0]["at_s"],
        found["clock"]["jumps"][1]["step_s"],
        found["bias_pct"],
        found["bias_with_reference_pct"],
        found["halves"][0]["bias_pct"],
        found["power_bands"][0]["bias_pct"],
        found["response"]["unit"]["width_s"],
        found["response"]["unit"]["delay_s"],
        *(found["limits_of_agreement"][0][key] for key in ("low_w", "high_w", "low_pct", "high_pct")),
    ]
    for estimate in estimates:
        assert {"value", "low", "high", "level"} <= set(estimate)
        assert estimate["low"] <= estimate["value"] <= estimate["high"]
    assert found["clock"]["status"] == "found"
    assert found["response"]["unit"]["kind"] == "mean"
    assert set(found["power_bands"][0]) >= {"low_w", "high_w", "bias_pct", "seconds"}
    assert set(found["best_means"][0]) >= {"duration_s", "reference_w", "unit_w", "same_window_unit_w"}
    assert found["limits_of_agreement"][1]["window_s"] == 10
    assert isinstance(found["common_seconds"], int)
    assert found["notices"][0]["slug"] == "spike_removed"


def test_what_was_not_assessed_is_null_with_its_reason() -> None:
    found = parsed(COMPARISONS["reference_without_power"]())
    assert found["bias_pct"] == {"value": None, "low": None, "high": None, "level": 0.95, "not_assessed": "no_power"}
    assert found["halves"] == []
    assert found["work"] is None
    assert {item["what"] for item in found["not_assessed"]} >= {"bias_pct", "power_bands", "best_means"}
    assert len(found["clock"]["jumps"]) == 2


def test_an_ambiguous_clock_gives_a_range() -> None:
    found = parsed(COMPARISONS["ambiguous"]())
    assert found["bias_range_pct"] == {"low": -4.9, "high": -3.1, "offsets": 7}
    assert found["bias_pct"]["not_assessed"] == "clock_ambiguous"
    assert len(found["clock"]["candidates"]) == 7


def test_an_end_without_bound_is_null_and_named() -> None:
    found = parsed(COMPARISONS["with_delay"]())["clock"]["offset_s"]
    assert found["low"] is None
    assert found["open"] == "low"
    assert found["value"] == 10.4
    both = Estimate(value=1.0, low=-math.inf, high=math.inf, unit="%")
    assert comparison_to_json(comparison(pair(bias=both)))["bias_pct"]["open"] == "both"


def test_a_value_that_is_no_number_is_not_assessed() -> None:
    endless = Estimate(value=math.inf, low=0.0, high=math.inf, unit="%")
    found = comparison_to_json(comparison(pair(bias=endless)))["bias_pct"]
    assert found == {"value": None, "low": None, "high": None, "level": 0.95, "not_assessed": "not_finite"}


def test_numbers_keep_their_digits_and_counts_stay_whole() -> None:
    made = pair(bias=Estimate(value=-4.123456789012, low=-5.0, high=-3.0, unit="%"))
    made = replace(made, common_seconds=np.int64(3500), blocks=(replace(made.blocks[0], seconds=np.int64(7)),))  # type: ignore[arg-type]
    found = parsed(comparison(made))
    assert found["bias_pct"]["value"] == -4.123456789
    assert found["common_seconds"] == 3500
    assert found["blocks"][0]["seconds"] == 7


def test_other_units_and_units_against_one_another() -> None:
    found = parsed(COMPARISONS["several_units"]())
    assert [(found["reference"], found["unit"])] == [(0, 1)]
    assert [(other["reference"], other["unit"]) for other in found["others"]] == [(0, 2), (0, 3)]
    assert [(one["reference"], one["unit"]) for one in found["between_units"]] == [(1, 2), (1, 3), (2, 3)]
    assert [recording["label"] for recording in found["recordings"]] == [
        "Laboratory pedals",
        "Studio bike A",
        "Studio bike B",
        "Studio bike C",
    ]
    assert found["settings"]["limit_pct"] == 2.0


def test_serial_numbers_are_left_out() -> None:
    assert SERIAL not in comparison_text(comparison())
    assert "serial" not in parsed(comparison())["recordings"][0]["meter"]


def test_a_comparison_of_nothing_is_refused() -> None:
    made = comparison(pair(bias=percent(1)))
    with pytest.raises(ValueError, match="at least one pair"):
        comparison_to_json(replace(made, pairs=()))
