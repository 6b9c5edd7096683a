"""What ``weigh`` and ``inspect`` print as JSON holds to the published schemas, strictly."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.unit.reference.worksheets import TrueMeter, worksheet
from wattwitness.cli.main import run
from wattwitness.model.hanging_weights import Side, Worksheet
from wattwitness.render.json_form import inspections_text
from wattwitness.render.schemas import Printed, schema_of, schema_text
from wattwitness.render.weighing_json import weighing_text
from wattwitness.workflows.inspect import inspect_file
from wattwitness.workflows.simulate import simulate_scenario
from wattwitness.workflows.weigh import weigh_worksheets

Capture = pytest.CaptureFixture[str]


def strictly(text: str) -> Any:
    """The text parsed, refusing what JSON does not have."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


def problems(command: Printed, found: Any) -> list[str]:
    return [
        f"{error.json_path}: {error.message}" for error in Draft202012Validator(schema_of(command)).iter_errors(found)
    ]


WEIGHED: dict[str, Callable[[], list[Worksheet]]] = {
    "both_sides": lambda: [worksheet(TrueMeter(), 1)],
    "one_side_one_series": lambda: [worksheet(TrueMeter(), 2, sides=(Side.LEFT,), positions=1, repeats=1)],
    "read_together_undated": lambda: [worksheet(TrueMeter(), 3, sides=(Side.BOTH,), date="")],
    "three_dated": lambda: [
        worksheet(TrueMeter(gain=1 + 0.01 * place), place, date=f"2026-0{place + 1}-12") for place in range(3)
    ],
    "two_undated": lambda: [worksheet(TrueMeter(), place, date="") for place in range(2)],
    "coarse_without_scatter": lambda: [worksheet(TrueMeter(scatter_nm=0.0), 4, resolution_nm=2.0)],
}


@pytest.mark.parametrize("make", list(WEIGHED.values()), ids=list(WEIGHED))
def test_every_weighing_holds_to_its_schema(make: Callable[[], list[Worksheet]]) -> None:
    found = strictly(weighing_text(weigh_worksheets(make())))
    assert problems(Printed.WEIGH, found) == []
    assert bool(found["drifts"]) is (len(make()) > 1)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("rides")
    made = list(simulate_scenario("laboratory", seed=1, folder=folder, formats=("fit", "tcx", "csv", "gpx")))
    spot = folder / "display.csv"
    spot.write_text("# spot readings\nat, shows_w\n0:00, 120\n1:00, 150\n2:30, 180\n", encoding="utf-8")
    without_power = folder / "cadence.csv"
    rows = "".join(f"{second},{80 + second % 7}\n" for second in range(60))
    without_power.write_text("time_s,cadence_rpm\n" + rows, encoding="utf-8")
    return [path for path in (*made, spot, without_power) if path.suffix in {".fit", ".tcx", ".csv", ".gpx"}]


@pytest.mark.parametrize("serial_numbers", [False, True])
def test_every_inspection_holds_to_its_schema(files: list[Path], serial_numbers: bool) -> None:
    found = strictly(inspections_text([inspect_file(file, serial_numbers=serial_numbers) for file in files]))
    assert problems(Printed.INSPECT, found) == []
    assert {file["format"] for file in found["files"]} >= {"fit", "tcx", "csv"}
    serials = [part["meter"].get("serial") for file in found["files"] for part in file["recordings"]]
    assert serial_numbers or not any(serials)


@pytest.mark.parametrize("command", list(Printed))
def test_each_schema_is_one_and_is_printed(command: Printed, capsys: Capture) -> None:
    Draft202012Validator.check_schema(schema_of(command))
    assert strictly(schema_text(command)) == schema_of(command)
    assert run(["schema", "--of", command.value]) == 0
    assert strictly(capsys.readouterr().out) == schema_of(command)


def test_the_comparison_is_what_is_printed_where_nothing_is_named(capsys: Capture) -> None:
    assert run(["schema"]) == 0
    assert strictly(capsys.readouterr().out)["title"] == "wattwitness comparison"
    assert run(["schema", "--of", "demo"]) == 2


def test_what_nobody_described_or_what_is_left_out_is_refused(files: list[Path]) -> None:
    weighed = weighing_text(weigh_worksheets([worksheet(TrueMeter(), 1)]))
    inspected = inspections_text([inspect_file(files[0])])
    for command, text, place in (
        (Printed.WEIGH, weighed, ("weighings", 0)),
        (Printed.WEIGH, weighed, ("weighings", 0, "sides", 0)),
        (Printed.WEIGH, weighed, ("weighings", 0, "budget", "contributions", 0)),
        (Printed.INSPECT, inspected, ("files", 0)),
        (Printed.INSPECT, inspected, ("files", 0, "recordings", 0)),
    ):
        for added in (True, False):
            found = strictly(text)
            part: Any = found
            for step in place:
                part = part[step]
            if added:
                part["unheard_of"] = 1
            else:
                del part[next(iter(part))]
            assert problems(command, found), (command, place)


@pytest.mark.parametrize("command", list(Printed))
def test_every_key_is_described(command: Printed) -> None:
    def check(node: Any, path: str) -> None:
        for name, schema in node.get("properties", {}).items():
            assert schema.get("description"), f"{path}.{name}"
            check(schema, f"{path}.{name}")
        for inner in (node.get("items"), *node.get("oneOf", ()), *node.get("anyOf", ())):
            if isinstance(inner, dict):
                check(inner, path)

    schema = schema_of(command)
    for name, node in (("", schema), *schema["$defs"].items()):
        check(node, name)
