"""Attacks from other pages and other machines: each is refused, or does nothing."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from tests.web.serving import Server

HTML = {"Accept": "text/html"}


def _ours(server: Server, **changed: str) -> dict[str, str]:
    headers = {
        "Origin": f"http://127.0.0.1:{server.port}",
        "Sec-Fetch-Site": "same-origin",
        "X-Wattwitness-Token": server.token,
        "Content-Type": "application/json",
    }
    return {**headers, **{name.replace("_", "-"): value for name, value in changed.items()}}


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example", "[::1]", "0.0.0.0", "127.0.0.1:80@evil"],
)
def test_a_name_that_was_made_to_lead_here_is_refused(empty: Server, host: str) -> None:
    answer = empty.ask("/", headers=HTML, host=host)
    assert answer.status == 421
    assert empty.token not in answer.text


def test_localhost_is_this_machine_too(empty: Server) -> None:
    assert empty.ask("/", headers=HTML, host=f"localhost:{empty.port}").status == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "", "https://127.0.0.1", "http://127.0.0.1:1"])
def test_a_page_of_another_site_changes_nothing(empty: Server, origin: str) -> None:
    answer = empty.ask("/undo/1", method="POST", body=b"{}", headers=_ours(empty, Origin=origin))
    assert answer.status == 403
    assert answer.words["error"]["slug"] == "from_elsewhere"


@pytest.mark.parametrize("site", ["cross-site", "same-site", "other"])
def test_what_the_browser_says_of_a_request_is_believed(empty: Server, site: str) -> None:
    assert empty.ask("/undo/1", method="POST", body=b"{}", headers=_ours(empty, Sec_Fetch_Site=site)).status == 403
    sent = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "script"}
    assert empty.ask("/", headers=sent).status == 403
    frame = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}
    assert empty.ask("/", headers=frame).status == 403


def test_a_link_from_elsewhere_may_be_followed(empty: Server) -> None:
    followed = {**HTML, "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert empty.ask("/", headers=followed).status == 200


@pytest.mark.parametrize("token", ["", "x" * 32, "ü".encode().decode("latin-1")])
def test_without_the_token_nothing_changes(empty: Server, token: str) -> None:
    answer = empty.ask("/undo/1", method="POST", body=b"{}", headers=_ours(empty, X_Wattwitness_Token=token))
    assert answer.status == 403
    assert answer.words["error"]["slug"] == "stale_page"


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "MADE_UP"])
def test_every_method_that_is_not_reading_is_guarded(empty: Server, method: str) -> None:
    assert empty.ask("/", method=method, headers=HTML).status in (400, 403, 405)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../guard.py",
        "/static/..%2fguard.py",
        "/static/%2e%2e/guard.py",
        "/static//etc/passwd",
        "/static/%00",
        "/parts/../html.py",
        "/parts/..%5c..%5chtml.py",
        "/static/....//guard.py",
        "/%2e%2e/%2e%2e/etc/passwd",
    ],
)
def test_no_path_reaches_outside(empty: Server, path: str) -> None:
    answer = empty.ask(path, headers=HTML)
    assert answer.status in (400, 404, 405)
    assert b"root:" not in answer.body
    assert b"import" not in answer.body


def test_more_than_a_form_holds_is_refused_before_it_is_read(empty: Server) -> None:
    with socket.create_connection(("127.0.0.1", empty.port), timeout=30) as line:
        head = "".join(f"{name}: {value}\r\n" for name, value in _ours(empty).items())
        line.sendall(
            f"POST /notes HTTP/1.1\r\nHost: 127.0.0.1:{empty.port}\r\n{head}Content-Length: 3000000000\r\n\r\n".encode()
        )
        answer = b""
        while piece := line.recv(4096):
            answer += piece
        assert b" 413 " in answer.split(b"\r\n")[0]
        assert b"a form holds" in answer


def test_a_form_that_comes_in_pieces_is_counted(empty: Server) -> None:
    with socket.create_connection(("127.0.0.1", empty.port), timeout=30) as line:
        head = "".join(f"{name}: {value}\r\n" for name, value in _ours(empty).items())
        line.sendall(
            f"POST /notes HTTP/1.1\r\nHost: 127.0.0.1:{empty.port}\r\n{head}Transfer-Encoding: chunked\r\n\r\n".encode()
        )
        piece = b"10000\r\n" + b" " * 0x10000 + b"\r\n"
        sent = 0
        try:
            for _ in range(400):
                line.sendall(piece)
                sent += 1
        except OSError:
            pass
        try:
            first = line.recv(4096).split(b"\r\n")[0]
        except OSError:
            first = b""
    # Refused in words, or cut off before the words could be read; never taken.
    assert b" 413 " in first or b" 404 " in first or sent < 400


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b'"x"', b"\xff\xfe", b"[" * 100_000, b'{"a":' * 50_000])
def test_what_is_no_form_is_said_so(empty: Server, body: bytes) -> None:
    answer = empty.send("/notes", body=body)
    assert 400 <= answer.status < 500
    assert "Traceback" not in answer.text


def test_every_answer_forbids_what_it_does_not_need(empty: Server) -> None:
    for path in ("/", "/static/app.js", "/nothing", "/parts/page.css"):
        headers = empty.ask(path, headers=HTML).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert headers["x-frame-options"] == "DENY"
        assert "access-control-allow-origin" not in headers
        assert "server" not in headers


def test_only_this_machine_can_reach_it(empty: Server) -> None:
    """A socket that listens on 127.0.0.1 alone cannot be reached on another address of this machine."""
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
    for address in [*others, "127.0.0.2"]:
        with (
            pytest.raises((ConnectionError, TimeoutError)),
            socket.create_connection((str(address), empty.port), timeout=2),
        ):
            pass


def test_it_ends_when_asked_to(tmp_path: Path) -> None:
    assert Server(tmp_path / "bench").end() == 0
