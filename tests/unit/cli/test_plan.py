"""The command that plans rides."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from wattwitness.cli.main import run
from wattwitness.readers.ride_steps import load_ride
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


RAMP = "[[step]]\nminutes = 60\npower_w = 80\nend_w = 230\ncadence_rpm = 88\n"


def test_a_ride_of_ones_own_is_judged(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "steps.toml"
    path.write_text(RAMP, encoding="utf-8")
    workout = tmp_path / "ramp.fit"
    assert run([*ASKED, "--steps", str(path), "--workout", str(workout), "--order", "b"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "cannot tell a zero not taken and a unit that settles apart" in text
    assert "cannot show an error that depends on cadence" in text
    assert "80 to 230" in text
    assert "order" not in text.split("Before you ride")[0]
    assert workout.exists()


def test_a_ride_of_ones_own_above_the_threshold_carries_the_caution(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "steps.toml"
    path.write_text(RAMP.replace("230", "330"), encoding="utf-8")
    assert run([*ASKED, "--steps", str(path)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "goes above the threshold power" in text
    assert "No step asks for more" not in text
    path.write_text(RAMP, encoding="utf-8")
    assert run(["plan", "--steps", str(path)]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "whether these steps stay below the rider’s is not known" in text
    assert "No step asks for more" not in text


def test_the_list_of_the_documentation_is_taken(tmp_path: Path) -> None:
    page = (Path(__file__).parents[3] / "docs" / "how-to" / "plan.md").read_text(encoding="utf-8")
    path = tmp_path / "steps.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    assert [step.seconds for step in load_ride(path).steps] == [600, 3000]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "x",
        "step = 3",
        "[[step]]\nminutes = 1\n",
        RAMP + 'colour = "red"\n',
        RAMP.replace("60", "600"),
        RAMP.replace("60", '"60"'),
        RAMP * 5,
        "[[step]]\nminutes = 10\npower_w = 0\ncadence_rpm = 0\n",
        "[other]\n" + RAMP,
    ],
)
def test_a_list_of_steps_that_cannot_be_is_refused(text: str, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "steps.toml"
    path.write_text(text, encoding="utf-8")
    assert run([*ASKED, "--steps", str(path)]) == 2
    said = capsys.readouterr().err
    assert said.startswith("error: ")
    assert "fault of wattwitness" not in said
    assert run([*ASKED, "--steps", str(tmp_path / "missing.toml")]) == 2
