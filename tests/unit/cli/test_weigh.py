"""``weigh`` and the descriptions of meters, from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.cli.main import run
from wattwitness.model.hanging_weights import Worksheet
from wattwitness.workflows.simulate import simulate_scenario

Capture = pytest.CaptureFixture[str]


def as_text(sheet: Worksheet) -> str:
    """The worksheet as a tester would have typed it."""
    lines = ["# hanging weights", f"# meter: {sheet.meter}", f"# date: {sheet.date}", "# gravity_m_s2: 9.8"]
    lines += ["# mass_uncertainty_pct: 0.1", "# angle_uncertainty_deg: 1", "# resolution_nm: 0.01"]
    lines.append("side;position;repeat;step;mass_kg;lever_mm;angle_deg;reading_nm")
    for item in sheet.readings:
        mass = "" if item.mass_kg == 0 else f"{item.mass_kg}"
        cells = (item.side, item.position, item.repeat, item.step, mass, item.lever_mm, 0, f"{item.reading_nm:.2f}")
        lines.append(";".join(str(cell) for cell in cells))
    return "\n".join(lines) + "\n"


@pytest.fixture
def sheets(tmp_path: Path) -> list[str]:
    """Three worksheets of a meter that drifts."""
    paths = []
    for number, date in enumerate(("2026-01-12", "2026-02-09", "2026-03-09")):
        path = tmp_path / f"sheet{number}.csv"
        path.write_text(as_text(worksheet(TrueMeter(gain=1.01 + 0.01 * number), number, date=date)), encoding="utf-8")
        paths.append(str(path))
    return paths


def test_says_the_gain_the_correction_and_the_caution(sheets: list[str], capsys: Capture) -> None:
    assert run(["weigh", sheets[0]]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Laboratory pedals reads 1." in printed
    assert "Its power times 0.99" in printed
    assert "Block the wheel" in printed
    assert "What makes the slope uncertain" in printed


def test_several_show_the_drift(sheets: list[str], capsys: Capture) -> None:
    assert run(["weigh", *sheets]) == 0
    assert "has drifted over 3 weighings" in " ".join(capsys.readouterr().out.split())


def test_as_json(sheets: list[str], capsys: Capture) -> None:
    assert run(["weigh", *sheets, "--format", "json", "--level", "0.9"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["level"] == 0.9
    first = answer["weighings"][0]
    assert first["gain_pct"]["low"] < 1.0 < first["gain_pct"]["high"]
    assert first["correction_factor"]["value"] == pytest.approx(1 / (1 + first["gain_pct"]["value"] / 100))
    assert {part["name"] for part in first["budget"]["contributions"]} >= {"mass", "lever", "angle", "readings"}
    assert first["sides"][0]["loads"][0]["torque_nm"] == 0
    assert answer["drifts"][0]["change_pct"]["value"] == pytest.approx(2.0, abs=0.3)


def test_a_blank_worksheet_and_wrong_uses(tmp_path: Path, sheets: list[str], capsys: Capture) -> None:
    blank = tmp_path / "blank.csv"
    assert run(["weigh", "--blank", str(blank)]) == 0
    assert str(blank) in capsys.readouterr().out.replace("\n", "")
    assert run(["weigh", "--blank", str(blank)]) == 2
    assert run(["weigh", str(blank)]) == 2
    assert "No row has a reading" in capsys.readouterr().err
    assert run(["weigh"]) == 2
    assert run(["weigh", "--blank", str(tmp_path / "b.csv"), sheets[0]]) == 2
    assert run(["weigh", str(tmp_path / "none.csv")]) == 2


def test_a_comparison_with_described_meters(tmp_path: Path, capsys: Capture) -> None:
    """Budget, findings and the three meters stand in JSON and text."""
    paths = [str(path) for path in simulate_scenario("three_meters", seed=2, folder=tmp_path) if path.suffix == ".fit"]
    meter = tmp_path / "pedals.toml"
    meter.write_text('place = "pedal"\n[setup]\nzero_taken = false\n[budget.claim]\nhalf_width_pct = 1.5\n', "utf-8")
    arguments = ["compare", *paths, "--reference-meter", str(meter), "--unit-meter", "none", "--quiet"]
    assert run([*arguments, "--format", "json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["budget"]["expanded_pct"] < 4
    claim = next(part for part in answer["budget"]["contributions"] if part["name"] == "claim")
    assert (claim["origin"], claim["is_default"], claim["common"]) == ("claimed", False, True)
    assert "zero_not_taken" in {finding["slug"] for finding in answer["setup_findings"]}
    assert [meter["recording"] for meter in answer["meters"]] == [0, 1, 2]
    assert [item["averaging_s"] for item in answer["meters"][0]["own_sd_pct"]] == [1, 10, 30]
    assert answer["meters_together"]["closures"][0]["closes"]
    assert run(arguments) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "its zero was not taken" in printed
    assert "What makes the bias uncertain" in printed
    assert "Each meter’s own error" in printed


def test_a_description_that_is_wrong_ends_with_its_reason(tmp_path: Path, capsys: Capture) -> None:
    paths = [str(path) for path in simulate_scenario("laboratory", seed=2, folder=tmp_path) if path.suffix == ".fit"]
    meter = tmp_path / "pedals.toml"
    meter.write_text("[budget.clam]\nhalf_width_pct = 1.5\n", "utf-8")
    assert run(["compare", *paths[:2], "--reference-meter", str(meter)]) == 2
    assert "docs/errors/meter_file_invalid.md" in capsys.readouterr().err
    assert run(["compare", *paths[:2], "--unit-meter", str(meter), "--unit-meter", str(meter)]) == 2


def test_as_a_page_that_is_not_written_over_anything(tmp_path: Path, sheets: list[str], capsys: Capture) -> None:
    page = tmp_path / "weights.html"
    assert run(["weigh", *sheets, "--html", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert "Weights that fall and cranks that swing" in text
    assert text.index("Block the wheel") < text.index("What the weights show"), "the caution stands before the numbers"
    assert "has drifted over 3 weighings" in text
    assert text.count("<svg") >= 7
    assert run(["weigh", sheets[0], "--html", str(page)]) == 2
    assert "output_exists" in capsys.readouterr().err
    assert page.read_text(encoding="utf-8") == text
    assert run(["weigh", sheets[0], "--html", str(page), "--replace"]) == 0
    assert run(["weigh", sheets[0], "--html", sheets[0], "--replace"]) == 2
    assert "one of the worksheets" in capsys.readouterr().err
    assert run(["weigh", "--blank", str(tmp_path / "b.csv"), "--html", str(page)]) == 2
