"""Episodes in the JSON: the keys that others rely on, and none found told from not looked for."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.factories import comparison
from tests.factories_episodes import WITH_EPISODES, every_finding, faulty, no_episode, two_units_with_episodes
from tests.factories_evidence import drop
from wattwitness.model.comparison import Comparison
from wattwitness.render.json_form import comparison_text
from wattwitness.render.json_schema import comparison_schema

VALIDATOR = Draft202012Validator(comparison_schema())


def parsed(made: Comparison) -> Any:
    return json.loads(comparison_text(made))


@pytest.mark.parametrize("name", list(WITH_EPISODES))
def test_holds_to_the_schema(name: str) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(parsed(WITH_EPISODES[name]()))] == []


def test_one_episode_whole() -> None:
    (episode,) = parsed(faulty(drop()))["episodes"]
    assert {key: episode[key] for key in ("kind", "start_s", "end_s", "finding", "duration_s", "lasts", "odds")} == {
        "kind": "drop",
        "start_s": 1500.0,
        "end_s": 1625.0,
        "finding": "unit",
        "duration_s": 125.0,
        "lasts": False,
        "odds": 5400.0,
    }
    assert episode["depth_pct"] == {"value": -31.0, "low": -34.2, "high": -27.8, "level": 0.95, "unit": "%"}
    assert episode["energy_kj"]["value"] == 8.4
    assert episode["energy_share_pct"] == 1.1
    assert (episode["before_w"], episode["before_rpm"]) == (232.0, 86.0)
    assert [one["kind"] for one in episode["witnesses"]] == ["reference", "cadence", "heart_rate"]
    assert episode["witnesses"][2]["log_odds"] == 6.0
    assert "400 to 1" in episode["witnesses"][2]["says"]


def test_the_summary_and_the_patterns() -> None:
    faults = parsed(every_finding())["faults"]
    assert faults["hours"] == 0.98
    assert faults["bias_without_pct"]["value"] == -3.1
    assert faults["channels"] == ["power_w", "cadence_rpm", "resistance", "heart_rate_bpm"]
    assert faults["patterns"] == [
        {"name": "too_few", "says": "Two episodes are too few to say when they come.", "chance": None}
    ]


def test_what_is_not_the_units_has_no_energy_and_says_why() -> None:
    by_finding = {episode["finding"]: episode for episode in parsed(every_finding())["episodes"]}
    assert set(by_finding) == {"unit", "reference", "rider", "undetermined"}
    assert by_finding["rider"]["energy_kj"]["value"] is None
    assert by_finding["rider"]["energy_kj"]["not_assessed"] == "not_of_the_unit"


def test_none_found_is_told_from_not_looked_for() -> None:
    looked, not_looked = parsed(no_episode()), parsed(comparison())
    assert looked["episodes"] == not_looked["episodes"] == []
    assert looked["faults"]["hours"] > 0
    assert not_looked["faults"] is None


def test_every_unit_has_its_own() -> None:
    found = parsed(two_units_with_episodes())
    assert [len(unit["episodes"]) for unit in (found, *found["others"])] == [1, 1, 0]
    assert found["others"][0]["episodes"][0]["finding"] == "undetermined"
    assert found["others"][1]["faults"] is None
