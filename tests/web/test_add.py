"""Adding rides at the real server: raw bodies to its disk, limits, crashes, and the way to the bench."""

from __future__ import annotations

import json
import re
import shutil
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from tests.incoming_files import pair, table, unclear_table
from tests.web.serving import Answer, Server
from wattwitness.workflows.bench import bench_holds


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One server for all that have a batch of their own."""
    started = Server(Path(tmp_path_factory.mktemp("web")) / "bench")
    yield started
    started.end()


def begun(server: Server) -> str:
    return str(server.send("/add/begin").words["batch"])


def announced(server: Server, batch: str, *files: tuple[str, int]) -> list[Any]:
    words = {"files": [{"name": name, "folder": "", "size": size} for name, size in files]}
    answers: list[Any] = server.send(f"/add/{batch}/announce", words).words["answers"]
    return answers


def put(server: Server, batch: str, name: str, content: bytes) -> Answer:
    return server.send(f"/add/files/{batch}?name={quote(name)}", method="PUT", body=content)


def watched(server: Server, task: dict[str, str]) -> dict[str, str]:
    """The last state of a task; its events end with it."""
    events = server.page(f"/tasks/{task['name']}/events").text
    last: dict[str, str] = json.loads(events.strip().rsplit("data: ", 1)[1])
    return last


def proposed(server: Server, batch: str) -> list[dict[str, Any]]:
    """The rides of the page as a browser would send them back."""
    assert watched(server, server.send(f"/add/{batch}/pair").words["task"])["state"] == "done"
    page = server.page(f"/add/{batch}/rides").text.split("<template")[0]
    rides = []
    for card in page.split('<fieldset class="pair')[1:]:
        ride: dict[str, Any] = dict(re.findall(r'<input name="(\w+)"[^>]*? value="([^"]*)"', card))
        ride |= dict(re.findall(r'<select name="(\w+)"[^>]*><option value="([^"]*)" selected', card))
        ride["keep"] = " checked" in card
        rides.append(ride)
    return rides


def test_from_files_to_the_bench(server: Server) -> None:
    batch = begun(server)
    for name, content in {**pair(1), "notes.txt": b"tyres at 7 bar"}.items():
        answer = put(server, batch, name, content)
        assert answer.status == 200, answer.text
        assert "being read" in answer.words["row"]
        read = server.send(f"/add/{batch}/read/{answer.words['file']}").words["row"]
        assert ("14\u00a0min" in read) == (name != "notes.txt")
        assert ("not used" in read) == (name == "notes.txt")
    (ride,) = proposed(server, batch)
    assert ride["keep"]
    ended = watched(server, server.send(f"/add/{batch}/keep", {"rides": [{**ride, "unit_name": "bike"}]}).words["task"])
    holds = bench_holds(server.bench, check=True)
    assert not holds.wrong
    (kept,) = (ride for ride in holds.rides if ride.unit == "bike")
    assert (ended["state"], ended["leads_to"]) == ("done", f"/units/{kept.unit_id}")
    assert {one.file_name for one in kept.files.values()} == set(pair(1))


@pytest.mark.parametrize(
    "name",
    [
        "../../../outside.csv",
        "..\\outside.csv",
        "/etc/cron.d/x",
        "a\0b.csv",
        "nul",
        "x" * 5000,
        "%2e%2e%2fx",
        ".",
        "ü\r\nX: 1",
    ],
)
def test_no_name_reaches_outside_or_breaks_anything(server: Server, name: str) -> None:
    batch = begun(server)
    before = set(server.bench.parent.rglob("*"))
    answer = put(server, batch, name, b"x")
    assert answer.status == 200
    files = server.bench / "incoming" / batch
    assert all(files in path.parents for path in set(server.bench.parent.rglob("*")) - before)
    assert len(list((files / "files").iterdir())) == 1


def test_markup_in_a_name_stays_text(server: Server) -> None:
    batch, name = begun(server), '"><img src=x onerror=alert(1)>.csv'
    put(server, batch, name, table(1))
    for page in (f"/add/{batch}", "/add"):
        text = server.page(page).text
        assert "<img" not in text
        assert "&lt;img" in text


def test_three_gigabytes_are_refused_by_their_announcement(server: Server) -> None:
    batch = begun(server)
    refused, fine = announced(server, batch, ("huge.fit", 3_000_000_000), ("fine.fit", 3))
    assert refused["error"]["slug"] == "file_too_large"
    assert fine["file"]
    head = _head(server, f"/add/files/{batch}?file={fine['file']}") + "Content-Length: 3000000000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as line:
        line.sendall(head.encode())
        assert b" 413 " in line.recv(4096).split(b"\r\n")[0]


def _head(server: Server, path: str) -> str:
    return (
        f"PUT {path} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nOrigin: http://127.0.0.1:{server.port}\r\n"
        f"X-Wattwitness-Token: {server.token}\r\nAccept: application/json\r\n"
    )


def test_a_body_in_pieces_that_is_longer_than_it_said_is_cut(server: Server) -> None:
    batch = begun(server)
    (answer,) = announced(server, batch, ("lies.fit", 1000))
    piece = b"10000\r\n" + bytes(0x10000) + b"\r\n"
    sent = 0
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as line:
        head = _head(server, f"/add/files/{batch}?file={answer['file']}") + "Transfer-Encoding: chunked\r\n\r\n"
        line.sendall(head.encode())
        line.settimeout(0.05)
        said = b""
        try:
            while not said and sent < 300 << 20:
                line.sendall(piece)
                sent += len(piece)
                try:
                    said = line.recv(4096)
                except TimeoutError:
                    continue
        except (ConnectionError, TimeoutError):
            pass
    assert sent < 64 << 20
    assert said == b"" or b" 400 " in said.split(b"\r\n")[0]
    assert not list((server.bench / "incoming" / batch / "parts").iterdir())
    assert server.page("/add").status == 200


def test_a_connection_that_breaks_leaves_nothing_half(server: Server) -> None:
    batch = begun(server)
    (answer,) = announced(server, batch, ("ride.fit", 1 << 20))
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as line:
        head = _head(server, f"/add/files/{batch}?file={answer['file']}") + f"Content-Length: {1 << 20}\r\n\r\n"
        line.sendall(head.encode() + bytes(1000))
    page = server.page(f"/add/{batch}").text  # asked after the server heard of the end
    assert 'data-state="awaited"' in page
    again = server.send(f"/add/files/{batch}?file={answer['file']}", method="PUT", body=bytes(1 << 20))
    assert again.status == 200
    assert not list((server.bench / "incoming" / batch / "parts").iterdir())


def test_a_server_that_is_killed_while_files_come(tmp_path: Path) -> None:
    """What had arrived is there, what had not is named, and the same files sent again complete it."""
    server = Server(tmp_path / "bench")
    batch, files = begun(server), pair(1)
    sizes = [(name, len(content)) for name, content in files.items()]
    first, second = announced(server, batch, *sizes)
    contents = list(files.values())
    assert server.send(f"/add/files/{batch}?file={first['file']}", method="PUT", body=contents[0]).status == 200
    with socket.create_connection(("127.0.0.1", server.port), timeout=30) as line:
        head = _head(server, f"/add/files/{batch}?file={second['file']}") + f"Content-Length: {sizes[1][1]}\r\n\r\n"
        line.sendall(head.encode() + contents[1][:5000])
        server.kill()
    again = Server(tmp_path / "bench", port=server.port)
    try:
        page = again.page(f"/add/{batch}").text
        assert page.count('data-state="unread"') == 1
        assert page.count('data-state="awaited"') == 1
        assert "the sending was cut short" in page
        assert f"/add/{batch}" in again.page("/add").text
        assert announced(again, batch, sizes[1])[0]["file"] == second["file"]
        assert again.send(f"/add/files/{batch}?file={second['file']}", method="PUT", body=contents[1]).status == 200
        assert [ride["keep"] for ride in proposed(again, batch)] == [True]
    finally:
        again.end()


def test_columns_are_confirmed_on_a_page(server: Server) -> None:
    batch = begun(server)
    file = put(server, batch, "day 1 bike.csv", unclear_table(1)).words["file"]
    row = server.send(f"/add/{batch}/read/{file}").words["row"]
    assert f"/add/{batch}/columns/{file}" in row
    page = server.page(f"/add/{batch}/columns/{file}").text
    assert "“second”" in page
    said = {"column-0": "time", "column-1": "power_w|w", "column-2": "cadence_rpm|rpm", "time_kind": "", "step_s": ""}
    wrong = server.send(f"/add/{batch}/columns/{file}/save", {**said, "column-1": "", "column-2": ""})
    assert wrong.words["error"]["slug"] == "mapping_invalid"
    assert server.send(f"/add/{batch}/columns/{file}/save", said).words == {"goes_to": f"/add/{batch}"}
    assert "power and cadence" in server.send(f"/add/{batch}/read/{file}").words["row"]


def test_a_name_that_turns_around_or_is_none_is_shown_so_that_it_can_be_read(server: Server) -> None:
    batch = begun(server)
    (turned, none) = announced(server, batch, ("\u202efdp.csv", 3), ("", 3))
    assert "\u202e" not in turned["row"].replace('data-name="\u202efdp.csv"', "")
    assert ">fdp.csv<" in turned["row"]
    assert "error" in none or "a file without a name" in none["row"]


def test_more_than_was_announced_ends_the_connection(server: Server) -> None:
    batch = begun(server)
    (answer,) = announced(server, batch, ("short.csv", 3))
    refused = server.send(f"/add/files/{batch}?file={answer['file']}", method="PUT", body=b"far more than that")
    assert refused.words["error"]["slug"] == "corrupt_file"
    assert refused.headers["connection"] == "close"


def test_one_recording_alone_has_its_answer(server: Server) -> None:
    batch, before = begun(server), bench_holds(server.bench, check=False).originals
    file = put(server, batch, "day 8 bike.csv", table(8)).words["file"]
    server.send(f"/add/{batch}/read/{file}")
    assert proposed(server, batch) == []
    assert server.page(f"/add/{batch}/alone/{file}/1").status == 200
    assert "cannot show a constant error" in server.ask(f"/add/{batch}/alone/{file}/1/answer").words["html"]
    goes_to = server.send(f"/add/{batch}/keep-alone/{file}").words["goes_to"]
    assert bench_holds(server.bench, check=True).originals == before + 1
    assert "day 8 bike.csv" in server.page(goes_to).text
    assert "cannot show a constant error" in server.ask(f"{goes_to}/answer").words["html"]
    assert f'href="{goes_to}"' in server.page("/").text
    publishing = server.send(f"{goes_to}/publish", {"white": True, "with_names": True})
    assert watched(server, publishing.words["task"])["state"] == "done"
    page = server.page(f"{goes_to}/publish").text
    results = re.findall(r'href="(/published/alone-[^"]+)"[^>]*>results.json', page)
    assert json.loads(server.ask(results[0]).text)["recording"]["file_name"] == "day 8 bike.csv"
    assert server.send(f"{goes_to}/take-off").words == {"goes_to": "/"}
    assert f'href="{goes_to}"' not in server.page("/").text
    assert server.page(goes_to).status == 404
    assert bench_holds(server.bench, check=True).originals == before + 1


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/add/0123456789ab/announce", {"files": []}),
        ("/add/..%2f..%2fx/announce", {"files": []}),
        ("/add/{batch}/announce", {"files": 3}),
        ("/add/{batch}/announce", {"files": [3]}),
        ("/add/{batch}/announce", {"files": [{"name": "x", "folder": "", "size": "3"}]}),
        ("/add/{batch}/announce", {"files": [{"name": "x", "folder": "", "size": True}]}),
        ("/add/{batch}/keep", {}),
        ("/add/{batch}/keep", {"rides": [3]}),
        ("/add/{batch}/keep", {"rides": 1e300}),
        ("/add/{batch}/keep", {"rides": [{"keep": True, "temperature_c": "warm"}]}),
        ("/add/{batch}/columns/0123456789/save", {"column-x": ""}),
        ("/add/{batch}/read/..%2fx", {}),
        ("/add/{batch}/keep-alone/0123456789", {}),
    ],
)
def test_what_no_page_of_ours_sends_is_told_in_words(empty: Server, path: str, words: dict[str, Any]) -> None:
    answer = empty.send(path.replace("{batch}", begun(empty)), words)
    assert 400 <= answer.status < 500
    assert answer.words["error"]["what"]
    assert answer.words["error"]["hint"]


def test_thrown_away_and_asked_for_by_another_tab(server: Server) -> None:
    batch = begun(server)
    put(server, batch, "day 1 bike.csv", table(1))
    assert server.send(f"/add/{batch}/throw").words == {"goes_to": "/add"}
    assert not (server.bench / "incoming" / batch).exists()
    assert server.page(f"/add/{batch}").status == 404
    assert put(server, batch, "x", b"x").words["error"]["slug"] == "unknown_name"


def test_a_body_that_is_not_as_long_as_announced_is_not_taken(server: Server) -> None:
    batch = begun(server)
    (answer,) = announced(server, batch, ("ride.fit", 10))
    for content in (b"short", b"longer than ten"):
        refused = server.send(f"/add/files/{batch}?file={answer['file']}", method="PUT", body=content)
        assert (refused.status, refused.words["error"]["slug"]) == (400, "corrupt_file")
    shutil.rmtree(server.bench / "incoming" / batch / "parts")  # a folder that someone removed
    told = server.send(f"/add/files/{batch}?file={answer['file']}", method="PUT", body=bytes(10))
    assert told.words["error"]["slug"] == "output_not_writable"
