"""The pages of a bench: each is there, says what the workflows say, and runs nothing that came with a file."""

from __future__ import annotations

import json
import os
import re
import shutil
import struct
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.web.furnished import SCRIPT, furnish
from tests.web.serving import Answer, Server
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.web.pages.unit_question import question_of_form
from wattwitness.workflows.bench_studies import bench_study, listed_ride, ride_settings
from wattwitness.workflows.published import recordings_of_bout
from wattwitness.workflows.ride_view import bout_of

TASK_S = 120


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    folder = tmp_path_factory.mktemp("pages")
    bench = furnish(folder / "bench", folder / "files")
    bench_study(bench, ListedStudy(rides=(), unit="rear hub"), CompareSettings())
    server = Server(bench)
    yield server
    server.end()


def done(server: Server, answer: Answer) -> dict[str, Any]:
    """Follow the task of an answer to its end."""
    name = answer.words["task"]["name"]
    last: dict[str, Any] = {}
    until = time.monotonic() + TASK_S
    while time.monotonic() < until:
        told = server.ask(f"/tasks/{name}/events", headers={"Accept": "text/event-stream"}).text
        last = json.loads(told.strip().rsplit("data: ", 1)[1])
        if last["state"] != "running":
            return last
    raise AssertionError(f"the task did not end: {last}")


@pytest.mark.parametrize("path", ["/", "/units/1", "/units/2", "/rides/1", "/rides/4", "/record", "/units/1/publish"])
def test_no_page_runs_what_came_with_a_file(served: Server, path: str) -> None:
    answer = served.page(path)
    assert answer.status == 200
    assert SCRIPT not in answer.text
    assert "<img" not in answer.text
    assert "&lt;" in answer.text or path in ("/record", "/units/2")


def test_what_is_not_there_is_said(served: Server) -> None:
    for path in ("/units/99", "/rides/99", "/nothing", "/rides/1/lines/9", "/published/unit-1-20260101T000000Z/0"):
        assert served.page(path).status == 404
    assert (
        served.ask("/rides/99/answer", headers={"Accept": "application/json"}).words["error"]["slug"] == "unknown_name"
    )


def test_rides_are_compared_as_a_task_and_the_verdict_stands_at_a_glance(served: Server) -> None:
    assert "still to be compared" in served.page("/units/1").text
    first, second = served.send("/units/1/compare"), served.send("/units/1/compare")
    assert first.words["task"]["name"] == second.words["task"]["name"]
    assert done(served, first)["leads_to"] == "/units/1"
    glance = served.ask("/units/1/glance").words["html"]
    assert re.search(r"Reads \d\.\d.%.low", glance)
    assert 'class="sign' in glance
    page = served.page("/units/1").text
    assert 'id="verdict"' in page
    assert "still to be compared" not in page


def test_lines_are_the_samples_as_recorded(served: Server) -> None:
    body = served.ask("/rides/3/lines/0").body
    size = struct.unpack("<I", body[:4])[0]
    header = json.loads(body[4 : 4 + size])
    place = 4 + size + (-size) % 4
    for line in header["lines"]:
        time_s, values = (
            np.frombuffer(body, np.float32, line["count"], place + 4 * line["count"] * k) for k in range(2)
        )
        place += 8 * line["count"]
        assert np.all(np.diff(time_s) > 0)
        assert np.isfinite(values).sum() > 600
    assert place == len(body)
    assert {line["panel"] for line in header["lines"]} >= {"power_w", "cadence_rpm", "heart_rate_bpm"}


def test_three_meters_of_one_ride_stand_in_one_answer(served: Server) -> None:
    answer = served.ask("/rides/3/answer", headers={"Accept": "application/json"}).words
    assert len(answer["compared"]) == 2
    assert all(answer["compared"])
    assert any(span["start"] < 330 < span["end"] for span in answer["spans"])
    assert SCRIPT not in answer["html"] + answer["places"]


def test_a_stretch_is_answered_and_nonsense_is_refused(served: Server) -> None:
    says = served.ask("/rides/3/stretch?from_s=60&to_s=240").words["says"]
    assert "0:01:00 to 0:04:00" in says
    assert "to 0:1" in served.ask("/rides/3/stretch?from_s=60&to_s=99999").words["says"]
    for bad in (
        "from_s=10&to_s=5",
        "from_s=a&to_s=5",
        "to_s=5",
        "from_s=nan&to_s=5",
        "from_s=1e400&to_s=5",
        "from_s=9000&to_s=9999",
    ):
        answer = served.ask(f"/rides/3/stretch?{bad}", headers={"Accept": "application/json"})
        assert answer.status == 400
        assert answer.words["error"]["hint"]


def test_an_offset_is_tried_without_being_kept(served: Server) -> None:
    before = served.ask("/rides/1/trial/0?offset_s=0").words["says"]
    assert "would read" in before
    assert "At this offset" in served.ask("/rides/1/trial/0?offset_s=-5").words["says"]
    assert served.ask("/rides/1/trial/0?offset_s=99999999999").status == 400


def test_changes_stand_on_record_and_are_taken_back(served: Server) -> None:
    changes = [
        ("/rides/1/facts", {"name": "first", "day": "2026-01-12", "temperature_c": "21,5"}),
        ("/rides/1/exclude", {"reason": "the strap was loose"}),
        ("/rides/1/clock", {"ride": 1, "offset_s": "-3.5"}),
        ("/rides/1/leave-out", {"from_s": 10, "to_s": 40, "reason": "a bottle"}),
        ("/rides/1/stretches/0/10.0/take-in", {}),
        ("/notes", {"about": "ride", "about_id": 1, "text": "Mine."}),
        ("/units/2/rename", {"name": "hub of the bike"}),
        ("/rides/4/take-off", {}),
    ]
    for path, words in changes:
        assert served.send(path, words).status == 200, path
    page = served.page("/record").text
    assert "the strap was loose" in page
    assert "a bottle" in page
    for _ in changes:
        offered = re.findall(r'data-post="(/undo/\d+)"', served.page("/record").text)[0]
        assert served.send(offered).words.get("goes_to")
        assert "was taken back before" in served.send(offered).words["error"]["what"]
    assert "/undo/" not in served.page("/record").text
    assert "Mine." not in served.page("/rides/1").text
    assert "left out of the study" not in served.page("/rides/1").text
    assert "rear hub" in served.page("/").text


def test_a_change_says_which_results_it_concerns(served: Server) -> None:
    said = served.send("/rides/1/leave-out", {"from_s": 10, "to_s": 40, "reason": "a bottle"}).words["says"]
    assert "To be compared anew: 1\u00a0of 3\u00a0rides of" in said.replace("1 of", "1\u00a0of")
    assert "rear hub" not in said
    assert served.undo().words["says"].startswith("Taken back: ")
    described = served.send("/meters/describe", {"name": "far away", "since_day": "2026-01-01"}).words
    assert described["says"] == "No result changes by it."
    served.undo()
    off = served.send("/rides/3/take-off", {}).words["says"]
    assert off.startswith("Judged again from what is there: “bike ")
    served.undo()


def test_what_is_left_out_of_a_page_is_left_out_of_every_unit_on_it(served: Server) -> None:
    """Rides 3 and 4 are one bout, seen by the bike and by the hub."""
    said = served.send("/rides/4/leave-out", {"from_s": 10, "to_s": 40, "reason": "a puncture"}).words["says"]
    assert "rear hub" in said
    assert "bike" in said
    assert all("a puncture" in served.page(f"/rides/{ride}").text for ride in (3, 4))
    served.send("/rides/3/stretches/0/10.0/take-in")
    assert all("a puncture" not in served.page(f"/rides/{ride}").text.split('id="facts"')[0] for ride in (3, 4))
    served.undo()
    assert all("a puncture" in served.page(f"/rides/{ride}").text for ride in (3, 4))
    served.undo()
    assert all("a puncture" not in served.page(f"/rides/{ride}").text for ride in (3, 4))


def test_an_original_that_was_altered_is_never_taken_for_what_was_kept(tmp_path: Path) -> None:
    bench = furnish(tmp_path / "bench", tmp_path / "files")
    served = Server(bench)
    try:
        (path,) = [one for one in (bench / "originals").rglob("*.fit") if one.read_bytes() == _unit_of_ride_1(tmp_path)]
        content = path.read_bytes()
        path.chmod(0o644)
        path.write_bytes(content[:-40] + bytes([content[-40] ^ 1]) + content[-39:])
        said = served.ask("/rides/1/answer", headers={"Accept": "application/json"}).words["error"]["what"]
        assert "is no longer what was kept" in said
        told = done(served, served.send("/rides/1/publish", {"white": True}))
        assert told["state"] == "failed"
        assert "is no longer what was kept" in told["error"]["what"]
        path.unlink()
        said = served.ask("/rides/1/answer", headers={"Accept": "application/json"}).words["error"]["what"]
        assert "is missing" in said
    finally:
        served.end()


def _unit_of_ride_1(folder: Path) -> bytes:
    return sorted((folder / "files" / "ride1").glob("*.fit"), key=lambda one: one.name)[0].read_bytes()


def test_what_a_killed_program_left_half_published_is_swept_away(served: Server) -> None:
    place = served.bench / "published"
    place.mkdir(exist_ok=True)
    old, young = place / ".wattwitness-old", place / ".wattwitness-young"
    for folder in (old, young):
        folder.mkdir()
        (folder / "report.html").write_text("half")
    long_ago = time.time() - 7200
    os.utime(old, (long_ago, long_ago))
    assert done(served, served.send("/units/2/publish", {"white": True}))["state"] == "done"
    assert not old.exists()
    assert young.exists()
    shutil.rmtree(young)


def test_a_page_that_has_grown_old_takes_nothing_else_back(served: Server) -> None:
    """Two tabs: what one of them shows as the last change is not, once the other has changed something."""
    served.send("/rides/1/exclude", {"reason": "one"})
    old = re.findall(r'data-post="(/undo/\d+)"', served.page("/").text)[0]
    served.send("/rides/1/leave-out", {"from_s": 10, "to_s": 40, "reason": "a bottle"})
    served.send("/rides/1/leave-out", {"from_s": 50, "to_s": 60, "reason": "a bell"})
    assert "another came after it" in served.send(old).words["error"]["what"]
    served.send("/rides/1/stretches/0/10.0/take-in")
    assert "no longer there" in served.send("/rides/1/stretches/0/10.0/take-in").words["error"]["what"]
    assert "a bell" in served.page("/rides/1").text
    for _ in range(4):
        served.undo()


@pytest.mark.parametrize(
    ("path", "words", "where"),
    [
        ("/rides/1/facts", {"name": ""}, "name"),
        ("/rides/1/facts", {"name": "a", "day": "tomorrow"}, "day"),
        ("/rides/1/facts", {"name": "a", "day": "0001-01-01"}, "day"),
        ("/rides/1/facts", {"name": "a", "temperature_c": "warm"}, "temperature_c"),
        ("/rides/1/facts", {"name": "a" * 999}, "name"),
        ("/rides/1/clock", {"ride": 1, "offset_s": "1e99"}, "offset_s"),
        ("/rides/1/clock", {"ride": 4, "offset_s": "1"}, "ride"),
        ("/rides/1/leave-out", {"from_s": 40, "to_s": 10, "reason": "x"}, "from_s"),
        ("/rides/1/leave-out", {"from_s": 10, "to_s": 40, "reason": ""}, "reason"),
        ("/notes", {"about": "ride", "about_id": 1, "text": ""}, "text"),
        ("/notes", {"about": "somebody", "text": "x"}, "about"),
        ("/units/1/ask", {"claim": "own"}, "limit_pct"),
        ("/units/1/ask", {"claim": "no such claim"}, ""),
        ("/units/1/ask", {"risk": "2"}, "risk"),
        ("/units/1/ask", {"field": "nobody"}, "field"),
        ("/units/1/ask", {"zones": "own", "own_zones": "a; 90\nb; 80\nc"}, "own_zones"),
        ("/rides/1/stretches/7/10.0/take-in", {}, ""),
    ],
)
def test_what_makes_no_sense_is_said_at_its_field(served: Server, path: str, words: dict[str, Any], where: str) -> None:
    answer = served.send(path, words)
    assert 400 <= answer.status < 500
    error = answer.words["error"]
    assert where in error["where"]
    assert error["what"]
    assert "Traceback" not in answer.text


def test_what_another_question_changes_is_said_before_it_is_kept(served: Server) -> None:
    asked = {
        "claim": "own",
        "limit_pct": "3",
        "from_w": "100",
        "to_w": "300",
        "zones": "own",
        "own_zones": "low; 80\nhigh",
    }
    says = served.send("/units/2/would-change", asked).words["says"]
    assert "would be compared anew" in says
    limit = {"claim": "own", "limit_pct": "3"}
    assert "No ride would be compared anew" in served.send("/units/2/would-change", limit).words["says"]
    assert served.send("/units/2/ask", limit).words["goes_to"] == "/units/2"
    assert "Nothing would change" in served.send("/units/2/would-change", limit).words["says"]
    assert 'value="3.0"' in served.page("/units/2").text
    served.undo()


def test_a_claim_once_asked_is_offered_for_other_units_too(served: Server) -> None:
    own = {"claim": "own", "source": "the maker’s <b>page</b>", "limit_pct": "3", "from_w": "100"}
    served.send("/units/2/ask", own)
    offered = 'value="on the bench: the maker’s &lt;b&gt;page&lt;/b&gt;"'
    assert offered in served.page("/units/1").text
    assert offered not in served.page("/units/2").text
    chosen = {"claim": "on the bench: the maker’s <b>page</b>"}
    assert "would be judged again" in served.send("/units/1/would-change", chosen).words["says"]
    served.send("/units/1/ask", chosen)
    assert 'value="the maker’s &lt;b&gt;page&lt;/b&gt;"' in served.page("/units/1").text
    assert served.send("/units/1/ask", {"claim": "on the bench: of nobody"}).words["error"]["where"] == "claim"
    served.undo()
    served.undo()
    assert offered not in served.page("/units/1").text


def test_a_unit_is_published_without_names_and_its_files_are_handed_out(served: Server) -> None:
    started = served.send("/units/2/publish", {"white": True, "notes": f"My words {SCRIPT}"})
    assert done(served, started)["state"] == "done"
    page = served.page("/units/2/publish").text
    links = re.findall(r'href="(/published/[^"]+)"', page)
    names = re.findall(r">([^<]+)</a></li>", page)
    assert {"report.html", "report.pdf", "results.json", "README.txt"} <= set(names)
    for link in links:
        answer = served.ask(link)
        assert answer.status == 200
        if answer.headers["content-type"].startswith("text/html"):
            assert answer.headers["content-security-policy"].startswith("sandbox allow-scripts;")
            assert SCRIPT not in answer.text
        else:
            assert answer.headers["content-disposition"].startswith("attachment")
    for bad in ("/published/..%2fcatalogue.sqlite/0", f"{links[0].rsplit('/', 1)[0]}/9999", "/published/%2e%2e/all"):
        assert served.ask(bad).status == 404


def test_all_units_are_published_side_by_side(served: Server) -> None:
    assert 'href="/publish"' in served.page("/").text
    assert done(served, served.send("/publish", {"white": True}))["state"] == "done"
    page = served.page("/publish").text
    links = dict(re.findall(r'href="(/published/[^"]+)"[^>]*>(results.json|report.html)', page))
    by_name = {name: served.ask(link).text for link, name in links.items()}
    units = [study["unit"] for study in json.loads(by_name["results.json"])["studies"]]
    assert len(units) == 2
    assert "rear hub" in units
    assert "2 units side by side" in by_name["report.html"].replace("\u00a0", " ")
    assert "onerror=" not in by_name["report.html"].replace("onerror=&", "")


def test_the_notes_that_were_chosen_go_with_a_publication(served: Server) -> None:
    for text in ("for all to read", "for nobody"):
        served.send("/notes", {"about": "unit", "about_id": 2, "text": text})
    chosen = re.findall(r'name="(note-\d+)"> [^:]+: for all to read', served.page("/units/2/publish").text)
    started = served.send("/units/2/publish", {chosen[0]: True, "notes": "and this"})
    assert done(served, started)["state"] == "done"
    page = re.findall(r'href="(/published/[^"]+)"[^>]*>report.html', served.page("/units/2/publish").text)
    text = served.ask(page[0]).text
    assert "for all to read" in text
    assert "and this" in text
    assert "for nobody" not in text
    served.undo()
    served.undo()


def test_a_ride_is_published_with_all_its_units(served: Server) -> None:
    """Rides 3 and 4 are one bout: the reference, the bike and the hub, under the names their files came with."""
    bout = bout_of(served.bench, 4)
    choices = recordings_of_bout(bout, [listed_ride(served.bench, ride) for ride in bout.rides])
    assert [choice.label.split()[0] if choice.label else "" for choice in choices] == ["", "rear", "bike"]
    assert all(choice.file_name.endswith(".fit") and len(choice.file_name) < 40 for choice in choices)
    assert len({choice.argument for choice in choices}) == 3


def test_a_task_is_stopped(served: Server) -> None:
    started = served.send("/rides/3/publish", {"white": True, "dark": True})
    served.send(f"/tasks/{started.words['task']['name']}/stop")
    assert done(served, started)["state"] == "stopped"
    assert not list((served.bench / "published").glob("ride-3-*"))
    assert not [path for path in Path(served.bench / "published").iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize(
    "page", ["//evil.example", "/\\evil.example", "http://evil.example/", "javascript:alert(1)", ""]
)
def test_a_change_never_leads_to_another_place(served: Server, page: str) -> None:
    headers = {
        "Origin": f"http://127.0.0.1:{served.port}",
        "Sec-Fetch-Site": "same-origin",
        "X-Wattwitness-Token": served.token,
        "X-Wattwitness-Page": page,
    }
    words = json.dumps({"about": "bench", "about_id": 0, "text": "a note"}).encode()
    assert served.ask("/notes", method="POST", body=words, headers=headers).words["goes_to"] == "/"
    served.undo()


HALF = "\ud83d"
"""Half of a sign, as a browser sends where a text is cut in the middle of one."""


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/notes/99999999999999999999999/remove", {}),
        ("/units/99999999999999999999999/rename", {"name": "x"}),
        ("/undo/99999999999999999999999", {}),
        ("/rides/1/facts", {"name": "a", "temperature_c": HALF}),
        ("/rides/1/leave-out", {"from_s": 1, "to_s": HALF, "reason": "x"}),
        ("/units/1/would-change", {"at_w": HALF}),
        ("/plan/make", {"threshold_w": HALF}),
    ],
)
def test_what_no_hand_types_is_refused_in_words(served: Server, path: str, words: dict[str, Any]) -> None:
    answer = served.send(path, words)
    assert answer.status in (400, 404)
    assert answer.words["error"]["what"]


def test_half_a_sign_is_kept_as_a_mark(served: Server) -> None:
    assert served.send("/rides/1/exclude", {"reason": f"cut {HALF}"}).status == 200
    assert "cut ?" in served.page("/rides/1").text
    served.undo()


def test_zones_may_be_written_with_decimal_commas() -> None:
    for lines in ("easy; 55,5\nsteady; 90\nhard", "easy, 55.5\nsteady, 90\nhard"):
        zones = question_of_form({"zones": "own", "own_zones": lines}, []).own_zones
        assert zones is not None
        assert zones.upper == (0.555, 0.9)
        assert zones.names == ("easy", "steady", "hard")


def test_a_ride_and_its_study_speak_of_one_reference(served: Server) -> None:
    served.send("/units/2/ask", {"reference_uncertainty_pct": "0.7"})
    assert "0.7" in served.ask("/rides/4/answer", headers={"Accept": "application/json"}).words["html"]
    settings = ride_settings(served.bench, 2)
    assert settings.reference_uncertainty_pct == 0.7
    served.undo()
