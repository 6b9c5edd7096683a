"""Meters at the real server: setups written down over time, read back, taken in, where they are used, hostile forms."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.incoming_files import pair
from tests.web.serving import Server
from tests.web.test_add import begun, proposed, put, watched
from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.setup import Place, Sides
from wattwitness.readers.meter_file import parse_meter_file
from wattwitness.workflows.bench import bench_holds
from wattwitness.workflows.bench_changes import meters_on
from wattwitness.workflows.bench_record import record_of, undo
from wattwitness.writers.meter_file import meter_toml

FORM = {
    "name": "Laboratory pedals",
    "since_day": "2026-01-10",
    "place": "pedal",
    "sides": "both",
    "crank.set_mm": "172,5",
    "crank.true_mm": "170",
    "crank.put_right": True,
    "setup.zero_taken": "true",
    "setup.zero_temperature_c": "19",
    "setup.temperature_c": "\u22122.5",
    "setup.firmware": '3.2 "beta" \\ 7',
    "setup.battery_pct": "80",
    "setup.warm_up_min": "15",
    "setup.hours_since_fitted": "12.5",
    "budget.claim.half_width_pct": "1.0",
    "budget.claim.distribution": "rectangular",
    "budget.claim.origin": "claimed",
    "budget.claim.source": "data sheet",
    "budget.claim.common": "true",
}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    started = Server(Path(tmp_path_factory.mktemp("web")) / "bench")
    yield started
    started.end()


def described(server: Server, **words: Any) -> str:
    answer = server.send("/meters/describe", words)
    assert answer.status == 200, answer.text
    return str(answer.words["goes_to"])


def test_an_empty_bench_says_what_to_do(empty: Server) -> None:
    page = empty.page("/meters")
    assert page.status == 200
    assert "Describe the reference first" in page.text


def test_what_is_typed_is_read_back_by_the_reader_of_descriptions(server: Server) -> None:
    address = described(server, **FORM)
    page = server.page(address).text
    assert "From 10 January 2026 on" in page
    link = re.search(r'href="(/meters/\d+/setups/\d+)"', page)
    assert link is not None
    text = server.page(link.group(1)).text
    meter = parse_meter_file(text)
    assert (meter.name, meter.place, meter.sides) == ("Laboratory pedals", Place.PEDAL, Sides.BOTH)
    setup, claim = meter.setup, meter.stated["claim"]
    assert (setup.crank_set_mm, setup.crank_true_mm, meter.put_right_crank) == (172.5, 170.0, True)
    assert (setup.zero_taken, setup.temperature_c, setup.firmware) == (True, -2.5, '3.2 "beta" \\ 7')
    assert (setup.battery_pct, setup.warm_up_min, setup.hours_since_fitted) == (80.0, 15.0, 12.5)
    assert (claim.half_width, claim.distribution, claim.origin) == (1.0, Distribution.RECTANGULAR, Origin.CLAIMED)
    assert (claim.source, claim.common, claim.degrees) == ("data sheet", True, None)
    assert meter_toml(meter) == text
    assert "21.5" in page, "the zero was taken 21.5 K warmer"
    assert "its claim" in page, "its budget is shown without a ride"
    assert 'value="172.5"' in page, "the form holds the latest setup"


def test_setups_follow_one_another_and_one_of_the_same_day_is_replaced(server: Server) -> None:
    address = described(server, name="hub of bike 3", since_day="2026-01-01", place="hub")
    assert described(server, name=" hub  of bike 3", since_day="2026-02-01", **{"setup.firmware": "2"}) == address
    assert described(server, name="hub of bike 3", since_day="2026-02-01", **{"setup.firmware": "2.1"}) == address
    (meter,) = (one for one in meters_on(server.bench) if one.name == "hub of bike 3")
    assert [(one.since_day, one.firmware) for one in meter.setups] == [("2026-01-01", ""), ("2026-02-01", "2.1")]
    page = server.page(address).text
    assert page.index("From 1 February 2026 on") < page.index("From 1 January 2026 on")
    assert "hub of bike 3" in server.page("/meters").text
    undo(server.bench)
    (meter,) = (one for one in meters_on(server.bench) if one.name == "hub of bike 3")
    assert meter.setups[-1].firmware == "2"


def test_a_description_that_is_written_already_is_kept_as_it_is(server: Server) -> None:
    text = '# mine\nname = "spider"\nplace = "spider"\n\n[setup]\nzero_taken = false\n'
    answer = server.send("/meters/take", {"text": text, "name": "", "since_day": ""})
    assert answer.status == 200, answer.text
    page = server.page(answer.words["goes_to"]).text
    assert "From the first ride on" in page
    assert "zero was not taken" in page
    link = re.search(r'href="(/meters/\d+/setups/\d+)"', page)
    assert link is not None
    assert server.page(link.group(1)).text == text
    wrong = server.send("/meters/take", {"text": "place = 'knee'"})
    assert wrong.words["error"]["slug"] == "meter_file_invalid"
    assert server.send("/meters/take", {"text": "x" * 500_000}).words["error"]["slug"] == "meter_file_invalid"


def test_units_and_references(server: Server) -> None:
    batch = begun(server)
    for name, content in pair(1).items():
        server.send(f"/add/{batch}/read/{put(server, batch, name, content).words['file']}")
    (ride,) = proposed(server, batch)
    watched(server, server.send(f"/add/{batch}/keep", {"rides": [{**ride, "unit_name": "bike"}]}).words["task"])
    (kept,) = bench_holds(server.bench, check=False).rides
    address = described(server, name="brake of the bike", place="brake")
    assert server.send(f"{address}/unit", {"unit": str(kept.unit_id)}).status == 200
    assert f'href="/units/{kept.unit_id}"' in server.page(address).text
    assert server.send(f"{address}/not-unit/{kept.unit_id}").status == 200
    assert "It is no unit on the bench" in server.page(address).text
    pedals = described(server, name="pedals of the ride", place="pedal")
    if kept.reference_meter_id is None:
        said = server.send(f"{pedals}/references", {f"ride-{kept.id}": True}).words["says"]
        assert "references of 1 ride now" in said
        assert "1 ride" in record_of(server.bench)[0].what
        (kept,) = bench_holds(server.bench, check=False).rides
        assert pedals.endswith(f"/{kept.reference_meter_id}")
    for wrong in ("99", "x", "1" * 400, "-1"):
        assert server.send(f"{address}/unit", {"unit": wrong}).status == 404
    assert server.send(f"{address}/not-unit/{'9' * 60}").status == 404
    assert server.page(f"/meters/{'9' * 60}").status == 404
    assert server.page("/meters/99").status == 404
    assert server.send("/meters/99/references", {}).status == 404
    assert server.send(f"{pedals}/references", {"ride-x": True, f"ride-{'9' * 400}": True}).status == 200


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"name": ""}, "name"),
        ({"name": "x" * 500}, "name"),
        ({"since_day": "soon"}, "since_day"),
        ({"place": "knee"}, "place"),
        ({"sides": "<script>"}, "sides"),
        ({"setup.zero_taken": "perhaps"}, "setup.zero_taken"),
        ({"setup.battery_pct": "101"}, "setup.battery_pct"),
        ({"setup.battery_pct": "NaN"}, "setup.battery_pct"),
        ({"setup.battery_pct": "1" + "0" * 400}, "setup.battery_pct"),
        ({"setup.temperature_c": "=1+1"}, "setup.temperature_c"),
        ({"crank.set_mm": "17.25"}, "crank.set_mm"),
        ({"budget.claim.half_width_pct": "-1"}, "budget.claim.half_width_pct"),
        ({"budget.claim.standard_uncertainty_pct": "1"}, "budget.claim.standard_uncertainty_pct"),
        ({"budget.claim.distribution": "normal"}, "budget.claim.standard_uncertainty_pct"),
        ({"budget.claim.degrees": "0"}, "budget.claim.degrees"),
        ({"budget.claim.origin": "heaven"}, "budget.claim.origin"),
        ({"budget.temperature.half_width_k": "1e9"}, "budget.temperature.half_width_k"),
    ],
)
def test_mistakes_are_named_at_their_fields(server: Server, change: dict[str, Any], where: str) -> None:
    before = len(record_of(server.bench))
    answer = server.send("/meters/describe", {**FORM, "name": "wrong", **change})
    assert answer.status == 400, answer.text
    assert answer.words["error"]["where"] == where, answer.text
    assert len(record_of(server.bench)) == before


def test_names_are_text_wherever_they_are_shown(server: Server) -> None:
    name = '<script>alert(1)</script> "=cmd'
    address = described(server, name=name, **{"setup.firmware": "<img src=x onerror=alert(1)>", "place": "pedal"})
    for page in (server.page(address).text, server.page("/meters").text, server.page("/weighing").text):
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "&lt;script&gt;alert" in page
    page = server.page("/meters?name=%3Cscript%3E&setup.firmware=%22%3E%3Cb%3E").text
    assert '"><b>' not in page


def test_the_result_of_weights_goes_into_the_form(server: Server) -> None:
    described(server, **{**FORM, "name": "weighed"})
    query = "name=weighed&budget.claim.standard_uncertainty_pct=0.4&budget.claim.source=hanging+weights"
    page = server.page(f"/meters?{query}").text
    assert 'name="budget.claim.standard_uncertainty_pct" value="0.4"' in page
    assert 'name="budget.claim.half_width_pct" value=""' in page, "it takes the place of what was claimed"
    assert 'name="crank.true_mm" value="170"' in page
