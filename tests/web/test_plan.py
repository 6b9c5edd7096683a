"""Planning at the real server: forms in, plans, sheets and workouts out, and what hostile forms come to."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import fitdecode
import pytest

from tests.incoming_files import pair
from tests.web.serving import Server
from tests.web.test_add import begun, proposed, put, watched
from wattwitness.workflows.bench import bench_holds


def planned(server: Server, **words: Any) -> str:
    """The address of the page with the plan."""
    answer = server.send("/plan/make", words)
    assert answer.status == 200, answer.text
    state = watched(server, answer.words["task"])
    assert state["state"] == "done", state
    return state["leads_to"]


def refused(server: Server, words: Any) -> dict[str, str]:
    answer = server.send("/plan/make", words)
    assert answer.status == 400, answer.text
    error: dict[str, str] = answer.words["error"]
    return error


def test_an_empty_bench_is_told_how_to_begin(empty: Server) -> None:
    page = empty.page("/plan")
    assert page.status == 200
    assert "ask a physician first" in page.text
    assert "Take what is empty from the rides of" not in page.text


def test_plan_sheet_and_workout(empty: Server) -> None:
    address = planned(empty, limit_pct="2", reference_uncertainty_pct="0,5", threshold_w="250", seed="4")
    page = empty.page(address).text
    assert "each on a day of its own" in page
    assert "ask a physician first" in page
    assert page.index("ask a physician") < page.index("Order A"), "cautions stand before anything that is ridden"
    assert 'value="0,5"' in page, "what was typed stands in the form again"
    query = address.partition("?")[2]
    assert "each on a day of its own" in empty.page(f"/plan/sheet?{query}").text
    file = empty.page(f"/plan/page?{query}")
    assert file.headers["content-disposition"].startswith("attachment")
    assert "<style>" in file.text
    workout = empty.page(f"/plan/workout?{query}&order=1")
    with fitdecode.FitReader(io.BytesIO(workout.body)) as fit:
        steps = [one for one in fit if one.frame_type == fitdecode.FIT_FRAME_DATA and one.name == "workout_step"]
    assert len(steps) == 4 * 3 * 2 + 2
    assert empty.page(f"/plan/workout?{query}&order=2").status == 404


def test_the_highest_step_is_held_and_warned_of(empty: Server) -> None:
    page = empty.page(planned(empty, threshold_w="300", highest_pct="110")).text
    assert "goes above the threshold power" in page
    assert "No threshold power was given" in empty.page(planned(empty)).text


def test_a_ride_of_ones_own_is_judged(empty: Server) -> None:
    steps = {
        "kind.1": "warm_up",
        "minutes.1": "10",
        "power_w.1": "100",
        "cadence_rpm.1": "85",
        "kind.7": "measure",
        "minutes.7": "50",
        "power_w.7": "80",
        "end_w.7": "230",
        "cadence_rpm.7": "85",
        "kind.9": "measure",
        "cadence_rpm.9": "85",
    }
    page = empty.page(planned(empty, threshold_w="250", **steps)).text
    assert "60" in page
    assert len(re.findall(r'name="minutes\.\d"', page)) == 2, "a row with nothing filled in is no step"
    error = refused(empty, {**steps, "minutes.7": "900"})
    assert error["slug"] == "steps_invalid"
    assert "no. 2" in error["what"]


@pytest.mark.parametrize(
    ("words", "where"),
    [
        ({"threshold_w": "NaN"}, "threshold_w"),
        ({"threshold_w": "1e400"}, "threshold_w"),
        ({"threshold_w": "1" + "0" * 400}, "threshold_w"),
        ({"threshold_w": "=1+1"}, "threshold_w"),
        ({"threshold_w": True}, "threshold_w"),
        ({"threshold_w": ["200"]}, "threshold_w"),
        ({"limit_pct": "0"}, "limit_pct"),
        ({"limit_pct": "2", "claim": "din_32932_class_a"}, "limit_pct"),
        ({"rides": "2.5"}, "rides"),
        ({"rides": "1000000"}, "rides"),
        ({"rule": "<script>"}, "rule"),
        ({"cadences_rpm": "65 65"}, "cadences_rpm"),
        ({"cadences_rpm": "65 nan"}, "cadences_rpm"),
        ({"cadences_rpm": " ".join(str(one) for one in range(5000))}, "cadences_rpm"),
        ({"step_s": "1200", "repeats": "6"}, "step_s"),
        ({f"power_w.{one}": "100" for one in range(3000)}, "rows"),
        ({"from_unit": "1e400"}, "from_unit"),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_field(empty: Server, words: dict[str, Any], where: str) -> None:
    answer = empty.send("/plan/make", words)
    error: Any = answer.words.get("error") or watched(empty, answer.words["task"])["error"]
    assert error["slug"] != "fault"
    assert error["where"] == where, error


def test_a_unit_that_is_not_there(empty: Server) -> None:
    answer = empty.send("/plan/make", {"from_unit": "99"})
    state = watched(empty, answer.words["task"])
    assert state["state"] == "failed"
    assert "no unit 99" in str(state["error"])
    answer = empty.send("/plan/make", {"claim": "<img src=x>"})
    assert (answer.status, answer.words["error"]["slug"]) == (404, "unknown_name")


def test_a_doctored_address_is_told_and_escaped(empty: Server) -> None:
    page = empty.page("/plan?planned=yes&threshold_w=%3Cscript%3Ealert(1)%3C/script%3E&known=%3Cb%3E")
    assert page.status == 200
    assert "<script>alert" not in page.text
    assert "is no number" in page.text
    assert empty.page("/plan/sheet?threshold_w=nan").status == 400


def test_what_the_rides_of_a_unit_say_fills_what_is_empty(tmp_path: Path) -> None:
    """Three rides on the bench: their spread and bias stand in the form, and what was typed stays as typed."""
    server = Server(tmp_path / "bench")
    try:
        batch = begun(server)
        for number in (1, 2, 3):
            for name, content in pair(number).items():
                server.send(f"/add/{batch}/read/{put(server, batch, name, content).words['file']}")
        rides = [{**ride, "unit_name": "bike", "keep": True} for ride in proposed(server, batch)]
        watched(server, server.send(f"/add/{batch}/keep", {"rides": rides}).words["task"])
        (unit,) = {ride.unit_id for ride in bench_holds(server.bench, check=False).rides}
        page = server.page(f"/plan?unit={unit}").text
        assert f'<option value="{unit}" selected>bike</option>' in page
        address = planned(server, from_unit=str(unit), bias_pct="-1.5", threshold_w="250")
        asked = parse_qs(address.partition("?")[2])
        assert asked["bias_pct"] == ["-1.5"]
        assert 0 <= float(asked["spread_pct"][0]) < 20
        assert "Take what is empty" in server.page(address).text
    finally:
        server.end()
