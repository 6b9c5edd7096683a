"""The real program serving a bench, as a tester starts it, and plain requests to it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

STARTS_WITHIN_S = 60


@dataclass(slots=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    @property
    def words(self) -> Any:
        return json.loads(self.body)


class Server:
    """``wattwitness serve`` on a port of its own; ``kill`` is the kill of a crash, ``end`` that of Ctrl+C."""

    def __init__(self, bench: Path, *, port: int = 0) -> None:
        self.bench = bench
        command = [sys.executable, "-m", "wattwitness.cli.main", "serve", str(bench), "--new", "--port", str(port)]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        if found is None:
            _, says = self.process.communicate(timeout=STARTS_WITHIN_S)
            raise AssertionError(f"the server did not start: {line} {says}")
        self.address, self.port = found.group(0), int(found.group(1))
        self.token = self.page("/").text.split('name="token" content="')[1].split('"')[0]

    def ask(
        self,
        path: str,
        *,
        method: str = "GET",
        body: bytes | None = None,
        headers: Mapping[str, str] | None = None,
        host: str = "",
    ) -> Answer:
        """Exactly the request that is described, nothing added but the host."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            connection.putheader("Host", host or f"127.0.0.1:{self.port}")
            for name, value in (headers or {}).items():
                connection.putheader(name, value)
            if body is not None:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders(body)
            answer = connection.getresponse()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def page(self, path: str) -> Answer:
        """A page, as a browser asks for it."""
        return self.ask(path, headers={"Accept": "text/html", "Sec-Fetch-Site": "none"})

    def send(self, path: str, words: Any = None, *, method: str = "POST", body: bytes | None = None) -> Answer:
        """What a page of ours sends: a form as JSON, or a file."""
        content = json.dumps({} if words is None else words).encode() if body is None else body
        headers = {
            "Accept": "application/json",
            "Content-Type": "application/json" if body is None else "application/octet-stream",
            "Origin": f"http://127.0.0.1:{self.port}",
            "Sec-Fetch-Site": "same-origin",
            "X-Wattwitness-Token": self.token,
        }
        return self.ask(path, method=method, body=content, headers=headers)

    def undo(self) -> Answer:
        """Take the last change back, as the page of the record offers it."""
        return self.send(re.findall(r'data-post="(/undo/\d+)"', self.page("/record").text)[0])

    def kill(self) -> None:
        """End at once, as a crash does."""
        self.process.kill()
        self.process.communicate(timeout=STARTS_WITHIN_S)

    def end(self) -> int:
        """End as Ctrl+C does; gives the exit status."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        try:
            self.process.communicate(timeout=STARTS_WITHIN_S)
        except subprocess.TimeoutExpired:
            self.kill()
        return self.process.returncode
