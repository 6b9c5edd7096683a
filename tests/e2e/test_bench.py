"""A bench by its commands: made, added to twice, looked at, judged twice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from wattwitness.cli.main import run
from wattwitness.render.study_json import study_schema
from wattwitness.workflows import bench_studies as workflow
from wattwitness.workflows.simulate import simulate_scenario

DAYS = ("day 1", "day 2")


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two rides, each in a folder of its own, and a list of both."""
    folder = tmp_path_factory.mktemp("recordings")
    for seed in (1, 2):
        simulate_scenario("laboratory", seed=seed, folder=folder / f"day {seed}", formats=("fit",))
    rides = [f'[[ride]]\nname = "{day}"\nreference = "{day}/pedals.fit"\nunit = "{day}/bike.fit"' for day in DAYS]
    (folder / "rides.toml").write_text("\n\n".join(rides), encoding="utf-8")
    return folder


def judged(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["bench", "study", *arguments, "--format", "json", "--quiet"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, study_schema())
    return found


def test_the_whole_way(
    recordings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder whose name holds what an address would not stays one folder; nothing changed is nothing computed."""
    bench = str(tmp_path / "100% winter? #1")
    add = ["bench", "add", bench, str(recordings / "rides.toml"), "--name", "studio bike B", "--confirm", "--quiet"]
    assert run(["bench", "new", bench]) == 0
    assert run(["bench", "study", bench]) == 2
    assert "no rides" in capsys.readouterr().err
    assert run(add) == 0
    assert run(add) == 0
    capsys.readouterr()
    assert run(["bench", "show", bench, "--check"]) == 0
    shown = capsys.readouterr().out
    assert "4 originals" in shown
    assert "studio bike B: 2 rides" in shown
    assert "Every original is as it was kept." in shown
    first = judged(capsys, bench)
    assert first["unit"] == "studio bike B"
    assert [ride["left_out"] for ride in first["rides"]] == [None, None]

    def never(_task: object) -> None:
        raise AssertionError("a ride that had not changed was compared again")

    monkeypatch.setattr(workflow, "figures_of", never)
    assert judged(capsys, bench, "--unit", "studio bike B") == first


def test_more_than_one_unit_has_to_be_named(
    recordings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = str(tmp_path / "bench")
    run(["bench", "new", bench])
    for day, name in zip(DAYS, ("studio bike A", "studio bike B"), strict=True):
        assert run(["bench", "add", bench, str(recordings / day), "--name", name, "--confirm", "--quiet"]) == 0
    assert run(["bench", "study", bench]) == 2
    says = capsys.readouterr().err
    assert "more than one unit" in says
    assert "“studio bike A”, “studio bike B”" in says
    assert run(["bench", "study", bench, "--unit", "studio bike C"]) == 2
    assert "no unit “studio bike C”" in capsys.readouterr().err


def test_loose_files_are_taken_together(recordings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bench = str(tmp_path / "bench")
    run(["bench", "new", bench])
    files = [str(recordings / DAYS[0] / name) for name in ("bike.fit", "pedals.fit")]
    assert run(["bench", "add", bench, *files, "--confirm", "--quiet"]) == 0
    assert "against the reference pedals.fit (" in capsys.readouterr().out
    assert run(["bench", "show", bench]) == 0
    assert f"{DAYS[0]}: 1 ride" in capsys.readouterr().out
    assert run(["bench", "add", bench, *files, str(recordings / DAYS[1] / "bike.fit"), "--confirm"]) == 2
    assert "Two of the files are called “bike.fit”." in capsys.readouterr().err
    assert run(["bench", "add", bench, *files, str(recordings / "gone.fit"), "--confirm"]) == 2
    assert "gone.fit" in capsys.readouterr().err
