"""A folder of recordings, and a list of them, straight to the answer about the unit."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from wattwitness.cli.main import run
from wattwitness.render.study_json import study_schema
from wattwitness.simulate.efforts import GroupRide, Mixed, Part, Steps
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.writers.fit import write_fit

EFFORT = Mixed(
    parts=(
        Part(effort=Steps(start_w=110.0, step_w=50.0, steps=4, step_s=75.0, cadences_rpm=(70.0, 90.0)), seconds=600.0),
        Part(effort=GroupRide(mean_w=190.0), seconds=600.0),
    )
)
GAINS = (0.83, 0.83, 0.83, 1.0, 1.0, 1.0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six rides of 20 minutes: 17 % low on three days, right on the next three."""
    where = tmp_path_factory.mktemp("study")
    for number, gain in enumerate(GAINS):
        bike = replace(BIKE, gain=gain, loss_w=0.0, loss_pct=0.0)
        spec = RideSpec(
            name=f"ride{number}",
            meters=(PEDALS, bike),
            effort=EFFORT,
            duration_s=1200.0,
            start_utc_s=1_768_212_000.0 + 86_400 * number,
        )
        pedals, unit = simulate_ride(spec, 40 + number).recordings
        write_fit(pedals, where / f"ride{number}-pedals.fit")
        write_fit(unit, where / f"ride{number}-bike.fit")
    (where / "notes.txt").write_text("a note that is no recording", encoding="utf-8")
    return where


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, dict[str, Any]]:
    status = run(["study", *arguments, "--format", "json", "--quiet"])
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, study_schema())
    return status, found


def test_a_folder(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "page.html"
    status, found = answer(capsys, str(folder), "--limit-pct", "2", "--html", str(page))
    assert [ride["left_out"] for ride in found["rides"]] == [None] * 6
    assert found["unit"] == "studio bike"
    assert found["verdicts"]["consistency"]["verdict"] == "does_not_conform"
    assert status == 1
    assert found["consistency"]["between_ride_sd_pct"]["value"] > 5
    assert not found["correction"]["correctable"]
    assert [Path(item["file"]).name for item in found["unused"]] == ["notes.txt"]
    assert "Studio bike over many rides" in page.read_text(encoding="utf-8")
    assert run(["study", str(folder), "--html", str(page)]) == 2
    assert "--replace" in capsys.readouterr().err


def test_a_list_with_groups_and_rides_left_out(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["[study]", 'unit = "bike A"', 'before = "old"', 'after = "new"', "reference_uncertainty_pct = 0.3"]
    lines += ["[claim]", 'source = "the maker"', "limit_pct = 2.5"]
    for number in range(6):
        lines += [
            "[[ride]]",
            f'name = "ride {number}"',
            f'reference = "{folder}/ride{number}-pedals.fit"',
            f'unit = "{folder}/ride{number}-bike.fit"',
            f'group = "{"old" if number < 3 else "new"}"',
        ]
    lines += ['exclude = "the strap had slipped"']
    lines += ["[[ride]]", 'name = "lost"', f'reference = "{folder}/gone.fit"', f'unit = "{folder}/ride1-bike.fit"']
    path = tmp_path / "rides.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    _, found = answer(capsys, str(path))
    assert found["before_after"]["finding"] == "fixed"
    assert found["before_after"]["bias_change_pct"]["value"] == pytest.approx(17.0, abs=1.0)
    left_out = {ride["name"]: ride["left_out"] for ride in found["rides"] if ride["left_out"]}
    assert left_out == {"ride 5": "excluded_by_tester", "lost": "file_missing"}
    assert [item["name"] for item in found["consistency"]["left_out"]] == ["ride 5", "lost"]
    assert found["consistency"]["left_out"][1]["mean_with_it_pct"] is None


def test_only_good_rides_conform(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number in (3, 4, 5):
        for name in (f"ride{number}-pedals.fit", f"ride{number}-bike.fit"):
            (tmp_path / name).write_bytes((folder / name).read_bytes())
    status, found = answer(capsys, str(tmp_path), "--limit-pct", "3", "--reference-uncertainty-pct", "0.3")
    assert found["verdicts"]["trueness"]["verdict"] == "conforms"
    assert found["verdicts"]["faults"]["verdict"] == "undecided"
    assert found["verdicts"]["faults"]["further_rides"]["reason"]
    assert status == 0
    assert run(["study", str(tmp_path), "--quiet"]) == 0
    text = capsys.readouterr().out
    assert "Is it the same every day?" in text


def test_what_cannot_be_studied(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["study", str(tmp_path / "none")]) == 2
    assert run(["study", str(tmp_path)]) == 2
    assert "docs/errors/rides_unclear.md" in capsys.readouterr().err
    assert run(["study", str(tmp_path), "--claim", "unheard_of"]) == 2


@pytest.mark.parametrize("name", ["ride3-bike.fit", "ride3-pedals.fit", "notes.txt"])
def test_a_page_is_never_written_over_what_is_the_testers(
    folder: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in folder.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    before = (tmp_path / name).read_bytes()
    assert run(["study", str(tmp_path), "--html", str(tmp_path / name), "--replace", "--quiet"]) == 2
    assert "would overwrite" in capsys.readouterr().err
    assert (tmp_path / name).read_bytes() == before
