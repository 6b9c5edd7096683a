"""Spot readings at the real server: typed and pasted, laid among the files to add, paired with a recording."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.web.serving import Server
from tests.web.test_add import proposed, put
from wattwitness.model.recording import ChannelName
from wattwitness.readers.open import read_recordings
from wattwitness.workflows.incoming import batch_of, batches, path_of_arrival


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    started = Server(Path(tmp_path_factory.mktemp("web")) / "bench")
    yield started
    started.end()


def rows(*readings: tuple[str, ...]) -> dict[str, Any]:
    names = ("at", "shows_w", "shows_rpm", "shows_bpm", "note")
    return {
        f"{name}.{place}": value
        for place, reading in enumerate(readings, start=1)
        for name, value in zip(names, reading, strict=False)
    }


def laid(server: Server, words: dict[str, Any]) -> Path:
    """The file that came of a form."""
    answer = server.send("/spot/save", words)
    assert answer.status == 200, answer.text
    batch = batch_of(server.bench, answer.words["goes_to"].removeprefix("/add/"))
    return path_of_arrival(server.bench, batch.id, batch.here[-1])


def test_typed_readings_become_a_file_of_spot_readings(server: Server) -> None:
    words = rows(("0:30", "148,5", "82"), ("0:45", "", "", "", "someone in the way, twice"), ("1:00", "205", "90"))
    path = laid(server, {**words, "name": "studio bike 3"})
    assert path.name == "studio bike 3.csv"
    (recording,) = read_recordings(path)
    assert recording.spot
    assert recording.channels[ChannelName.POWER].tolist()[0] == 148.5
    assert (recording.time_s - recording.time_s[0]).tolist() == [0.0, 15.0, 30.0]
    page = server.page(f"/add/{path.parent.parent.name}").text
    assert "3 spot readings" in page


def test_times_of_day_and_a_name_that_is_no_path(server: Server) -> None:
    words = rows(("13:00:10", "150"), ("13:00:20", "160"))
    path = laid(server, {**words, "date": "2026-01-12", "utc_offset": "+01:00", "name": "../../../etc/passwd"})
    assert path.parent.name == "files"
    assert "# date: 2026-01-12" in path.read_text()
    (recording,) = read_recordings(path)
    assert recording.time_s[0] == datetime(2026, 1, 12, 12, 0, 10, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("pasted", "readings"),
    [
        ("0:30, 148, 82\n0:45, 152, 82\n", 2),
        ("0:30\t148\n0:45\t152,5\n1:00\t\n", 3),
        ("0:30; 148\r\n\r\n0:45; 152\r\n", 2),
        ("at, shows_w, note\n0:30, 148, hill\n", 1),
        ("# spot readings\nat, shows_rpm\n0:30, 82\n", 1),
    ],
)
def test_pasted_readings(server: Server, pasted: str, readings: int) -> None:
    (recording,) = read_recordings(laid(server, {"pasted": pasted}))
    assert recording.time_s.size == readings


@pytest.mark.parametrize(
    ("words", "where"),
    [
        ({}, "at.1"),
        (rows(("soon", "148")), "at.1"),
        (rows(("", "148")), "at.1"),
        (rows(("#", "148"), ("0:30", "148")), "at.1"),
        (rows(("0:30", "148"), ("0:20", "150")), "at.2"),
        (rows(("0:30", "148"), ("0:40", "1e400")), "shows_w.2"),
        (rows(("0:30", "1" + "0" * 400)), "shows_w.1"),
        (rows(("0:30", "=1+1")), "shows_w.1"),
        (rows(("0:30", "-5")), "shows_w.1"),
        (rows(("0:30", "5", "<b>")), "shows_rpm.1"),
        ({**rows(("0:30", "148")), "date": "yesterday"}, "date"),
        ({**rows(("0:30", "148")), "date": "2026-01-12", "utc_offset": "Berlin"}, "utc_offset"),
        ({**rows(("0:30", "148")), "pasted": "0:30, 1"}, "pasted"),
        ({"pasted": "PK\x03\x04"}, "pasted"),
        ({"pasted": "# spot readings\n"}, "pasted"),
        ({"pasted": "0:30, 148\n0:40, many\n"}, "pasted"),
        (rows(*[("0:30", "148")] * 2500), "rows"),
    ],
)
def test_mistakes_are_named_at_their_fields(server: Server, words: dict[str, Any], where: str) -> None:
    before = len(batches(server.bench))
    answer = server.send("/spot/save", words)
    assert answer.status == 400, answer.text
    assert answer.words["error"]["where"] == where, answer.text
    assert len(batches(server.bench)) == before


def test_a_batch_that_is_not_there(server: Server) -> None:
    assert server.send("/spot/save", {**rows(("0:30", "148")), "batch": "../../x"}).status == 404


def test_readings_are_paired_with_the_recording_of_the_reference(server: Server) -> None:
    """A ride of changing effort, noted every 15 s from a film that began 20 s after the recording."""
    effort = [120 + 90 * ((second // 60) % 3) + (second * 7) % 11 for second in range(900)]
    table = "Time,Power,Cadence\n" + "".join(
        f"2026-01-12T10:{second // 60:02d}:{second % 60:02d}Z,{watts},85\n" for second, watts in enumerate(effort)
    )
    readings = [(f"{at // 60}:{at % 60:02d}", f"{0.97 * effort[at + 20]:.0f}") for at in range(0, 860, 15)]
    answer = server.send("/spot/save", {**rows(*readings), "name": "display"})
    batch = answer.words["goes_to"].removeprefix("/add/")
    sent = put(server, batch, "pedals.csv", table.encode())
    server.send(f"/add/{batch}/read/{sent.words['file']}")
    found = proposed(server, batch)
    assert len(found) == 1, found
    display, _ = batch_of(server.bench, batch).here
    assert (found[0]["reference"], found[0]["unit"]) == (sent.words["file"], display.id)
