"""Documentation and code say the same: errors and their pages, commands and options, settings, rooms."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path
from typing import Any

import click
import pytest

from tools.docs_pages import (
    ERRORS,
    ROOT,
    SHELLS,
    all_commands,
    commands_page,
    error_slugs,
    errors_page,
    rooms,
    settings_page,
)
from wattwitness.model.settings import AloneSettings, CompareSettings

PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
COMMANDS = dict(all_commands())
HEADINGS = ("**What it means.**", "**Why it happens.**", "**What to do.**")


def test_every_error_has_a_page_and_every_page_an_error() -> None:
    """The last line of an error message names a page that is there."""
    assert {path.stem for path in ERRORS.glob("*.md")} == set(error_slugs())


@pytest.mark.parametrize("slug", sorted(error_slugs()))
def test_an_error_page_says_what_why_and_what_to_do(slug: str) -> None:
    """Each page has the three parts, and its slug in the title."""
    text = (ERRORS / f"{slug}.md").read_text(encoding="utf-8")
    assert f"(`{slug}`)" in text.splitlines()[0]
    assert all(heading in text for heading in HEADINGS)
    assert f"errors/{slug}.md" in errors_page()


def test_every_command_and_option_is_documented_with_its_meaning() -> None:
    """The page of commands is made from the program; what this finds is an option or argument without help."""
    page = commands_page()
    for name, command in COMMANDS.items():
        assert f"## wattwitness {name}\n" in page
        assert command.help, f"{name} has no help"
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.opts[0]} has no help"
                assert all(option in page for option in parameter.opts)


@pytest.mark.parametrize(("kind", "command"), [(CompareSettings, "compare"), (AloneSettings, "alone")])
def test_every_setting_is_documented_and_an_option(kind: Any, command: str) -> None:
    """A setting has a meaning and a unit, stands in the table, and can be given on the command line."""
    page = settings_page()
    options = {parameter.name for parameter in COMMANDS[command].params}
    for item in fields(kind):
        assert item.metadata["meaning"].endswith("."), item.name
        assert item.metadata["unit"], item.name
        assert f"| `{item.name}` |" in page
        assert item.name in options


def lines_of_commands(path: Path) -> list[tuple[int, str]]:
    """Line number and text of every ``wattwitness …`` written as code in a page."""
    found = []
    fenced = False
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if line.lstrip().startswith("```"):
            fenced = not fenced
            continue
        parts = [line] if fenced else re.findall(r"`([^`]+)`", line)
        for part in parts:
            match = re.match(r"\s*(?:\S*/bin/)?wattwitness\s+(.+)", part)
            if match:
                found.append((number, match.group(1)))
    return found


def problem_with(written: str) -> str | None:
    """What is wrong with a command written in the documentation, or None if the program would take it."""
    words = shlex.split(written.split(" > ", maxsplit=1)[0], comments=True)
    if not words or words[0].startswith("-") or words[0] in ("COMMAND", "…"):
        return None
    command = COMMANDS.get(words[0])
    if command is None:
        return f"there is no command {words[0]}"
    if isinstance(command, click.Group) and len(words) > 1 and not words[1].startswith("-"):
        words = [f"{words[0]} {words[1]}", *words[2:]]
        if words[0] not in COMMANDS:
            return f"there is no command {words[0]}"
        command = COMMANDS[words[0]]
    known = {name: item for item in command.params for name in (*item.opts, *item.secondary_opts)}
    for word in words[1:]:
        option = word.split("=")[0]
        if re.match(r"--?[a-z]", option) and option not in known and option not in ("-h", "--help"):
            return f"{words[0]} has no option {option}"
    return None


def test_every_documented_command_is_real() -> None:
    """No page shows a command or an option that the program does not have."""
    found = [
        f"{path.relative_to(ROOT)}:{number}: {problem}"
        for path in PAGES
        for number, written in lines_of_commands(path)
        if (problem := problem_with(written))
    ]
    assert not found
    assert sum(len(lines_of_commands(path)) for path in PAGES) > 20


@pytest.mark.parametrize(
    "written", ["compute a.fit b.fit", "compare a.fit b.fit --colour red", "bench lose b", "bench show b --colour red"]
)
def test_a_documented_command_that_is_not_real_is_found(written: str) -> None:
    """The check above can fail."""
    assert problem_with(written)


def test_every_room_stands_in_the_architecture_and_the_reference() -> None:
    """A new room is described, and its functions are in the reference, but for the shell's."""
    package = ROOT / "src" / "wattwitness"
    found = {path.parent.name for path in package.glob("*/__init__.py")}
    architecture = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
    assert set(rooms()) == found - set(SHELLS)
    assert {room for room in found if not re.search(rf"^  {room}/ ", architecture, re.MULTILINE)} == set()


def test_the_readme_begins_with_the_job_then_a_picture_then_two_commands() -> None:
    """What a stranger needs first stands first."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    picture, demo, test = text.index("!["), text.index("make demo"), text.index("make test")
    assert not text.startswith("#")
    assert text.index("\n\n") < picture < demo < test
    assert (ROOT / "docs" / "images" / "report.png").stat().st_size > 0
