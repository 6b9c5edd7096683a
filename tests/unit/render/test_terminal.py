"""The terminal: plain where it should be, and no terminal's encoding loses a minus."""

from __future__ import annotations

import io
import subprocess
import sys
from typing import Any

import pytest
from rich.console import Console

from tests.factories import COMPARISONS, comparison
from wattwitness.render.terminal import print_comparison, standard_console


def printed(made: Any, *, width: int = 80, encoding: str = "utf-8", **options: Any) -> str:
    raw = io.BytesIO()
    file = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    print_comparison(made, Console(file=file, width=width, highlight=False, markup=False, emoji=False, **options))
    file.flush()
    return raw.getvalue().decode(encoding)


def test_the_answer_comes_first() -> None:
    lines = printed(comparison()).split("\n")
    assert lines[0] == "The answer"
    assert lines[1].replace("\u00a0", " ") == "Studio bike B reads 4.3 % low (3.8 to 4.8 % low, 95 %)."


def test_a_number_is_not_torn_from_its_unit() -> None:
    for width in range(60, 121, 7):
        for line in printed(comparison(), width=width).split("\n"):
            assert not line.strip().startswith("% "), line


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8"])
def test_every_encoding_keeps_the_signs(encoding: str) -> None:
    said = printed(comparison(), encoding=encoding)
    minus = "\u2212" if encoding == "utf-8" else "-"
    assert f"{minus}4.8 to {minus}3.8" in said
    assert "?" not in said


def test_warnings_are_told_without_colour() -> None:
    assert "\n! Studio bike B breaks the stated limit" in printed(COMPARISONS["several_units"]())


def test_colour_only_where_it_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[" in printed(comparison(), force_terminal=True, color_system="standard")
    monkeypatch.setenv("NO_COLOR", "1")
    said = printed(comparison(), force_terminal=True, color_system="standard")
    assert "\x1b[33m" not in said


def test_markup_in_a_name_is_only_text() -> None:
    assert "[31mred" in printed(COMPARISONS["hostile_names"](), width=100)


def test_a_pipe_gets_plain_text() -> None:
    code = (
        "from tests.factories import comparison\n"
        "from wattwitness.render.terminal import print_comparison, standard_console\n"
        "print_comparison(comparison(), standard_console())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=60)
    assert b"\x1b" not in done.stdout
    assert done.stderr == b""
    assert "Studio bike B reads" in done.stdout.decode()


def test_the_standard_console_takes_text_as_it_is() -> None:
    console = standard_console()
    with console.capture() as capture:
        console.print("[bold]:smile: 123")
    assert capture.get() == "[bold]:smile: 123\n"
