"""The examples of the documentation run, as a reader would run them."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from tools.docs_pages import ROOT
from wattwitness.cli.main import run
from wattwitness.readers.csv_mapping import parse_mapping
from wattwitness.readers.meter_file import parse_meter_file
from wattwitness.readers.open import read_recordings
from wattwitness.readers.worksheet import parse_worksheet
from wattwitness.reference.hanging_weights import weigh
from wattwitness.workflows.simulate import simulate_scenario

HOW_TO = ROOT / "docs" / "how-to"


def blocks(page: Path, language: str) -> list[str]:
    """The fenced blocks of a page in one language."""
    return re.findall(rf"^```{language}\n(.*?)^```", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)


@pytest.fixture
def folder_of_rides(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder, entered, with the files that the examples name."""
    simulate_scenario("laboratory", seed=1, folder=tmp_path, formats=("fit", "tcx"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_library_examples_run(folder_of_rides: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What the page shows prints a clock."""
    (code,) = blocks(HOW_TO / "use-as-a-library.md", "python")
    exec(compile(code, "use-as-a-library.md", "exec"), {})
    assert "found" in capsys.readouterr().out


def test_the_example_of_a_script_reads_the_json(folder_of_rides: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The keys that the page names are there."""
    assert run(["compare", "pedals.fit", "bike.fit", "--format", "json", "--quiet"]) == 0
    (folder_of_rides / "comparison.json").write_text(capsys.readouterr().out, encoding="utf-8")
    (code,) = blocks(HOW_TO / "automate.md", "python")
    exec(compile(code, "automate.md", "exec"), {})
    assert re.search(r"[-+]\d+\.\d % \([-+]\d+\.\d to [-+]\d+\.\d\)", capsys.readouterr().out)


def test_the_example_of_spot_readings_is_read(tmp_path: Path) -> None:
    """As typed on the page."""
    (text,) = blocks(HOW_TO / "spot-readings.md", "text")
    path = tmp_path / "display.csv"
    path.write_text(text, encoding="utf-8")
    (recording,) = read_recordings(path)
    assert recording.spot
    assert recording.time_s.size == 5


def test_the_example_of_a_mapping_is_accepted() -> None:
    """Every key and value on the page is one that the reader knows."""
    (text,) = blocks(HOW_TO / "tables.md", "toml")
    assert tomllib.loads(text)["columns"]
    assert parse_mapping(text).header_line == 1


def test_the_example_of_a_worksheet_is_evaluated() -> None:
    """As printed on the page; two loads and the zero are enough for a line."""
    (text,) = blocks(HOW_TO / "hanging-weights.md", "text")
    worksheet = parse_worksheet(text)
    assert len(worksheet.readings) == 5
    assert abs(weigh(worksheet).gain_pct.value or 99) < 3


def test_the_example_of_a_meter_file_is_accepted() -> None:
    """Every key and value on the page is one that the reader knows."""
    (text,) = blocks(HOW_TO / "describe-a-meter.md", "toml")
    meter = parse_meter_file(text)
    assert meter.put_right_crank
    assert meter.stated["claim"].half_width == 1.0
