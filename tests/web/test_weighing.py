"""Hanging weights at the real server: a worksheet typed in, what it says, worksheets kept, and hostile forms."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.web.serving import Server
from wattwitness.readers.worksheet import load_worksheet, parse_worksheet
from wattwitness.writers.worksheet import worksheet_text

MASSES_KG = (0.0, 10.0, 20.0, 30.0, 20.0, 10.0, 0.0)
STEPS = ("zero_before", "up", "up", "up", "down", "down", "zero_after")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    started = Server(Path(tmp_path_factory.mktemp("web")) / "bench")
    yield started
    started.end()


def form(*, gain: float = 1.02, wobble_nm: float = 0.03, **keys: str) -> dict[str, Any]:
    """What the page sends for a meter that reads ``gain`` times the torque."""
    words: dict[str, Any] = {"meter": "laboratory pedals", "date": "2026-01-12", "gravity_m_s2": "9,8", **keys}
    place = 0
    for side in ("left", "right"):
        for position in ("forward", "back"):
            for mass, step in zip(MASSES_KG, STEPS, strict=True):
                place += 1
                reading = gain * mass * 9.8 * 0.1725 + 0.2 + wobble_nm * (-1) ** place
                row = {
                    "side": side,
                    "position": position,
                    "repeat": "1",
                    "step": step,
                    "mass_kg": f"{mass:g}".replace(".", ",") if mass else "",
                    "lever_mm": "172,5",
                    "angle_deg": "0",
                    "reading_nm": f"{reading:.3f}",
                }
                words |= {f"{name}.{place}": value for name, value in row.items()}
    return words


def evaluated(server: Server, words: dict[str, Any]) -> str:
    answer = server.send("/weighing/evaluate", words)
    assert answer.status == 200, answer.text
    return str(answer.words["into"]["#answer"])


def test_cautions_stand_first_and_an_empty_worksheet_can_be_had(server: Server) -> None:
    page = server.page("/weighing").text
    assert page.index("break feet and hands") < page.index("<form")
    blank = server.page("/weighing/blank")
    assert blank.headers["content-disposition"].startswith("attachment")
    assert blank.text.startswith("# hanging weights")


def test_what_is_typed_is_evaluated_below(server: Server) -> None:
    """The meter of the form reads 2 % more than hangs; its masses are as marked, so the slope holds 1."""
    shown = evaluated(server, form(mass_uncertainty_pct="0.1"))
    assert re.search(r"\+(2\.0|1\.9\d|2\.0\d)", shown), shown[:2000]
    assert "break feet and hands" in shown
    assert "budget.claim.standard_uncertainty_pct=" in shown
    assert "Worksheets on the bench" not in shown


def test_a_row_without_a_reading_is_passed_over_and_decimal_points_are_no_thousands(server: Server) -> None:
    words = form()
    words |= {"position.99": "forward", "repeat.99": "1", "angle_deg.99": "0"}
    words |= {"mass_kg.99": "10.025", "lever_mm.99": "172.500", "reading_nm.99": "", "step.99": "up", "side.99": "left"}
    assert "laboratory pedals" in evaluated(server, words).lower()
    words["reading_nm.99"] = "17.284"
    assert "10,025" not in evaluated(server, words)


def test_worksheets_are_kept_opened_saved_and_weighed_together(server: Server) -> None:
    names = []
    for day, gain in (("2026-02-01", 1.00), ("2026-03-01", 1.01), ("2026-04-01", 1.02)):
        answer = server.send("/weighing/evaluate", {**form(gain=gain, date=day), "meter": "kept pedals", "keep": True})
        assert answer.status == 200, answer.text
        names += [sha for sha in re.findall(r"of=([0-9a-f]{64})", answer.words["into"]["#kept"]) if sha not in names]
    assert len(names) == 3
    opened = server.page(f"/weighing?of={names[0]}").text
    assert 'value="kept pedals"' in opened
    assert len(re.findall(r'name="mass_kg\.\d+"', opened)) == 28
    saved = server.page(f"/weighing/kept/{names[0]}").text
    there = parse_worksheet(saved)
    assert worksheet_text(there) == saved
    assert (there.meter, there.gravity_m_s2, len(there.readings)) == ("kept pedals", 9.8, 28)
    together = server.send("/weighing/together", {f"sheet-{name}": True for name in names})
    assert "drift" in together.words["into"]["#answer"]
    away = server.send(f"/weighing/kept/{names[0]}/away").words["into"]["#kept"]
    assert names[0] not in away
    assert names[1] in away
    server.undo()
    assert names[0] in server.page("/weighing").text
    server.send(f"/weighing/kept/{names[0]}/away")
    again = server.send(
        "/weighing/evaluate", {**form(gain=1.0, date="2026-02-01"), "meter": "kept pedals", "keep": True}
    )
    assert names[0] in again.words["into"]["#kept"]
    assert server.send("/weighing/together", {}).status == 400
    assert server.send("/weighing/together", {"sheet-../../etc/passwd": True}).status == 404


def test_a_worksheet_filled_in_elsewhere_is_taken_in(server: Server, tmp_path: Path) -> None:
    text = server.page("/weighing/blank").text
    assert server.send("/weighing/take", {"text": text, "name": "mine.csv"}).words["error"]["what"].startswith("No row")
    lines = "left,forward,1,zero_before,,,,0.1,\n" + "".join(
        f"left,forward,1,up,{mass},172.5,0,{mass * 9.8 * 0.1725:.2f},\n" for mass in (10, 20, 30)
    )
    answer = server.send("/weighing/take", {"text": text + lines, "name": "../../mine"})
    assert answer.status == 200, answer.text
    page = server.page(answer.words["goes_to"]).text
    assert "mine.csv" in page
    path = tmp_path / "saved.csv"
    path.write_bytes(server.page(f"/weighing/kept/{answer.words['goes_to'][-64:]}").body)
    assert len(load_worksheet(path).readings) == 4
    assert (
        server.send("/weighing/take", {"text": "PK\x03\x04", "name": "x"}).words["error"]["slug"] == "worksheet_invalid"
    )


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"mass_kg.3": "NaN"}, "mass_kg.3"),
        ({"mass_kg.3": "1" + "0" * 400}, "mass_kg.3"),
        ({"mass_kg.3": "=10"}, "mass_kg.3"),
        ({"mass_kg.3": ""}, "mass_kg.3"),
        ({"mass_kg.1": "10"}, "mass_kg.1"),
        ({"lever_mm.4": "17"}, None),
        ({"lever_mm.4": "5"}, "lever_mm.4"),
        ({"angle_deg.4": "89"}, "angle_deg.4"),
        ({"reading_nm.28": "1e999"}, "reading_nm.28"),
        ({"side.2": "<script>"}, "side.2"),
        ({"side.2": "#"}, "side.2"),
        ({"side.2": 'left","forward'}, "side.2"),
        ({"step.2": "sideways"}, "step.2"),
        ({"repeat.2": "-1"}, "repeat.2"),
        ({"latitude_deg": "91"}, "latitude_deg"),
        ({"gravity_m_s2": "1,6"}, "gravity_m_s2"),
        ({"gravity_m_s2": "nan"}, "gravity_m_s2"),
        ({"date": "yesterday"}, "date"),
        ({f"reading_nm.{one}": "1" for one in range(100, 3000)}, "rows"),
    ],
)
def test_mistakes_are_named_at_their_fields(server: Server, change: dict[str, Any], where: str | None) -> None:
    answer = server.send("/weighing/evaluate", {**form(), **change})
    if where is None:
        assert answer.status == 200, "what is only unlikely is evaluated, and told of"
        return
    assert answer.status == 400, answer.text
    error = answer.words["error"]
    assert error["where"] == where, error
    assert "Line" not in error["what"], "a form has rows, not lines"


def test_nothing_and_nonsense(server: Server) -> None:
    assert server.send("/weighing/evaluate", {}).words["error"]["what"] == "No row has a reading."
    assert server.send("/weighing/evaluate", {"mass_kg.1": "10"}).status == 400
    assert server.send("/weighing/evaluate", [1]).status == 400
    assert server.page("/weighing?of=../../x").status == 404


def test_a_name_is_text_wherever_it_is_shown(server: Server) -> None:
    words = {**form(), "meter": "<script>alert(1)</script>", "keep": True}
    answer = server.send("/weighing/evaluate", words)
    assert "<script>" not in "".join(answer.words["into"].values())
    assert "<script>alert" not in server.page("/weighing").text
    formula = {**form(), "meter": '=cmd|"/c calc"!A1', "keep": True}
    kept = server.send("/weighing/evaluate", formula).words["into"]["#kept"]
    saved = [server.page(f"/weighing/kept/{one}").text for one in re.findall(r"of=([0-9a-f]{64})", kept)]
    assert any("# meter: cmd|" in text for text in saved)
