"""How the demo names the way to its bench."""

from __future__ import annotations

import sys

import pytest

from wattwitness.cli.demo import as_called


@pytest.mark.parametrize(
    ("called", "on_path", "said"),
    [
        (".venv/bin/wattwitness", None, ".venv/bin/wattwitness"),
        ("my tools/bin/wattwitness", None, "'my tools/bin/wattwitness'"),
        (".venv/bin/wattwitness", "/usr/bin/wattwitness", "wattwitness"),
        ("-m", None, "wattwitness"),
    ],
)
def test_the_command_it_names_is_one_that_the_shell_finds(
    monkeypatch: pytest.MonkeyPatch, called: str, on_path: str | None, said: str
) -> None:
    monkeypatch.setattr(sys, "argv", [called])
    monkeypatch.setattr("wattwitness.cli.demo.shutil.which", lambda _: on_path)
    assert as_called() == said
