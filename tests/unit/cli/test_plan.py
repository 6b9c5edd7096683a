"""The command that plans rides."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from wattwitness.cli.main import run
from wattwitness.render.plan_json import plan_schema

Capture = pytest.CaptureFixture[str]
ASKED = ["plan", "--limit-pct", "5", "--reference-uncertainty-pct", "0.5", "--threshold-w", "240"]


def test_the_sheet_says_what_to_ride_and_the_cautions_come_before_it(capsys: Capture) -> None:
    assert run(ASKED) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert text.index("physician") < text.index("Steps 1 to 13 of order A") < text.index("Steps 14 to 26 of order B")
    assert "Stop at pain" in text
    assert "No step asks for more than 90" in text
    assert "What it would decide" in text


def test_the_json_is_of_its_schema_and_of_the_plan(capsys: Capture) -> None:
    assert run([*ASKED, "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert list(Draft202012Validator(plan_schema()).iter_errors(found)) == []
    assert found["prospects"]["limit_pct"] == 5
    assert len(found["orders"]) == 2
    assert max(step["power_w"] for step in found["orders"][0]["steps"]) <= 0.9 * 240


def test_without_a_claim_no_verdict_is_planned(capsys: Capture) -> None:
    assert run(["plan", "--format", "json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["prospects"] is None
    assert list(Draft202012Validator(plan_schema()).iter_errors(found)) == []
    assert not found["threshold_stated"]
    assert run(["plan"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "What they would decide is not assessed" in text
    assert "No threshold power was given" in text


def test_above_threshold_only_when_asked_and_with_a_caution(capsys: Capture) -> None:
    assert run([*ASKED, "--highest-pct", "110"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "goes above the threshold power" in text
    assert run([*ASKED, "--highest-pct", "130"]) == 2


def test_page_and_workout_are_written_and_never_over_something(tmp_path: Path, capsys: Capture) -> None:
    page, workout = tmp_path / "sheet.html", tmp_path / "ride.fit"
    arguments = [*ASKED, "--html", str(page), "--workout", str(workout), "--order", "b"]
    assert run(arguments) == 0
    assert "Ride sheet" in page.read_text(encoding="utf-8")
    assert workout.read_bytes()[8:12] == b".FIT"
    assert run(arguments) == 2
    assert run([*arguments, "--replace"]) == 0
    assert run([*ASKED, "--html", str(page), "--workout", str(page), "--replace"]) == 2
    assert "Ride sheet" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "wrong",
    [
        ["--claim", "unheard_of"],
        ["--cadence-rpm", "80", "--cadence-rpm", "80"],
        ["--threshold-w", "0"],
        ["--step-s", "1200"],
        ["--threshold-w", "30"],
    ],
)
def test_what_makes_no_plan_is_refused(wrong: list[str], capsys: Capture) -> None:
    arguments = ["plan", *wrong]
    assert run(arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_one_cadence_is_planned_and_its_weakness_said(capsys: Capture) -> None:
    assert run([*ASKED, "--cadence-rpm", "85"]) == 0
    assert "cannot show an error that depends on cadence" in " ".join(capsys.readouterr().out.split())


def test_simple_acceptance_is_said_to_be_wrong_near_the_limit(capsys: Capture) -> None:
    assert run([*ASKED, "--rule", "simple_acceptance"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Simple acceptance is never undecided" in text
    assert "∞" not in text.split("What a ride tells apart")[0]


def test_a_reference_too_coarse_for_the_claim_is_said(capsys: Capture) -> None:
    """2 / 1.96 = 1.02 %: with more than that not even a perfect unit conforms at a risk of 5 %."""
    assert run(["plan", "--limit-pct", "2", "--threshold-w", "240"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "No number of rides gives a firm verdict" in text
    assert "a reference of more than 1.02" in text
