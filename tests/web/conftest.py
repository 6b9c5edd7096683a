"""A server over an empty bench, for the tests that only read it or are refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web.serving import Server


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Shared by the tests of a module, which must leave it as it is."""
    server = Server(Path(tmp_path_factory.mktemp("web")) / "bench")
    yield server
    server.end()
