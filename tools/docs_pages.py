"""The pages of documentation that are made from the code, so that they cannot grow stale."""

from __future__ import annotations

import html
import importlib
import importlib.util
import json
import pkgutil
import re
import tomllib
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import click

ROOT = Path(__file__).resolve().parents[1]
ERRORS = ROOT / "docs" / "errors"
SHELLS = ("cli", "web")
# Lists in the JSON whose items hold the same keys as the whole; their keys are not listed again.
AS_AT_THE_TOP = ("others", "between_units")
REGISTRIES = (
    ("File formats that can be read", "wattwitness.readers.registry", "READERS"),
    ("Charts", "wattwitness.charts.registry", "CHARTS"),
    ("Sections of the report", "wattwitness.sections.registry", "SECTIONS"),
    ("Scenarios of the simulator", "wattwitness.simulate.scenarios", "SCENARIOS"),
)


def rooms() -> list[str]:
    """The rooms of the library that there are, from the bottom up, in the order of the import layers."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = (item for item in project["tool"]["importlinter"]["contracts"] if item["type"] == "layers")
    names = [name.strip(" ()") for layer in reversed(contract["layers"]) for name in layer.split("|")]
    package = ROOT / "src" / "wattwitness"
    return [name for name in names if name not in SHELLS and (package / name / "__init__.py").exists()]


def generated_pages() -> dict[str, str]:
    """Markdown of every generated page by its path in the documentation."""
    pages = {
        "reference/commands.md": commands_page(),
        "reference/settings.md": settings_page(),
        "reference/errors.md": errors_page(),
        "reference/json.md": json_page(),
        "reference/reasons.md": reasons_page(),
        "reference/registries.md": registries_page(),
        "reference/simulator-defaults.md": defaults_page(),
        "changelog.md": (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"),
        "contributing.md": contributing_page(),
    }
    pages.update({f"reference/library/{room}.md": library_page(room) for room in rooms()})
    return pages


def all_commands() -> Iterator[tuple[str, click.Command]]:
    """Every command by its full name: ``compare``, ``bench``, ``bench add``, and so on."""
    from wattwitness.cli.main import commands

    yield from _commands_of(commands, "")


def _commands_of(group: click.Group, before: str) -> Iterator[tuple[str, click.Command]]:
    for name, command in sorted(group.commands.items()):
        yield f"{before}{name}", command
        if isinstance(command, click.Group):
            yield from _commands_of(command, f"{before}{name} ")


def commands_page() -> str:
    """Usage, options and meaning of every command."""
    parts = ["# Commands\n\nMade from the program itself. `wattwitness COMMAND --help` prints the same.\n"]
    for name, command in all_commands():
        context = click.Context(command, info_name=f"wattwitness {name}")
        usage = " ".join(command.collect_usage_pieces(context))
        parts.append(f"## wattwitness {name}\n\n```text\nwattwitness {name} {usage}\n```\n\n{_prose(command.help)}\n")
        parts.append("| option | meaning |\n| --- | --- |")
        for parameter in command.get_params(context):
            record = parameter.get_help_record(context)
            if record:
                parts.append(f"| {_code(record[0])} | {_cell(record[1])} |")
        parts.append("")
    return "\n".join(parts)


def settings_page() -> str:
    """Every setting of a comparison and of one recording alone, from the dataclasses that hold them."""
    from wattwitness.model.settings import AloneSettings, CompareSettings

    lines = ["# Settings\n"]
    for kind, command, title in (
        (CompareSettings, "compare", "Of a comparison"),
        (AloneSettings, "alone", "Of one recording alone"),
    ):
        lines += [
            f"## {title}\n",
            f"Each is a field of `{kind.__name__}` in the library and an option of `wattwitness {command}`.\n",
            "| setting | default | unit | range | meaning |\n| --- | --- | --- | --- | --- |",
            *_settings_rows(kind),
            "",
        ]
    return "\n".join(lines) + "\n"


def _settings_rows(kind: Any) -> Iterator[str]:
    """One row of the table for each setting."""
    for item in fields(kind):
        low, high = item.metadata["low"], item.metadata["high"]
        span = "" if low is None and high is None else f"{low} to {high}"
        default = "" if item.default in (None, ()) else str(item.default)
        unit = "" if item.metadata["unit"] == "1" else item.metadata["unit"]
        yield f"| `{item.name}` | {default} | {unit} | {span} | {_cell(item.metadata['meaning'])} |"


def error_slugs() -> dict[str, type[Exception]]:
    """Every error a user can meet, by its slug."""
    from wattwitness.model import errors

    found = [item for item in vars(errors).values() if isinstance(item, type)]
    kinds = [item for item in found if issubclass(item, errors.WattwitnessError)]
    return {kind.slug: kind for kind in kinds if kind is not errors.WattwitnessError}


def errors_page() -> str:
    """A list of all errors with their one sentence and the status they end the command with."""
    lines = [
        "# Errors\n",
        "Every error says what is wrong, where, and what to do; the last line names its page.\n",
        "| error | what it says | exit status |\n| --- | --- | --- |",
    ]
    for slug, kind in error_slugs().items():
        status = kind.exit_code  # type: ignore[attr-defined] # only our own errors are listed
        lines.append(f"| [`{slug}`](../errors/{slug}.md) | {_cell(kind.__doc__)} | {status} |")
    return "\n".join(lines) + "\n"


def reasons_page() -> str:
    """Why an estimate could not be made: the slugs under ``not_assessed``, in the words that the report uses."""
    from wattwitness.words.estimates import REASONS

    lines = [
        "# Why something was not assessed\n",
        "What stands under `not_assessed` in the JSON. The report says it in these words.\n",
        "| reason | in words |\n| --- | --- |",
    ]
    lines += [f"| `{slug}` | {_cell(words)} |" for slug, words in sorted(REASONS.items())]
    return "\n".join(lines) + "\n"


def defaults_page() -> str:
    """What the simulator starts from, with the source of each number and how far it was checked."""
    from wattwitness.simulate.defaults import DEFAULTS

    lines = [
        "# The simulator's defaults\n",
        "RET: read in the source. DER: derived or computed from it. MEM: from memory, not verified.\n",
        "| name | value | range | unit | source | status |\n| --- | --- | --- | --- | --- | --- |",
    ]
    for item in DEFAULTS.values():
        span = "" if item.low == item.high else f"{item.low:g} to {item.high:g}"
        unit = "" if item.unit == "1" else item.unit
        source = _cell(item.source)
        lines.append(f"| `{item.name}` | {item.value:g} | {span} | {unit} | {source} | {item.status.value} |")
    return "\n".join(lines) + "\n"


def json_page() -> str:
    """The published schemas of the JSON that commands print: a table of keys for each, then the schema itself."""
    from wattwitness.render.schemas import Printed, schema_of

    lines = [
        "# JSON\n",
        "What commands print with `--format json`, and their schemas; `wattwitness schema` prints them.\n",
    ]
    for command, title in (
        (Printed.COMPARE, "The comparison"),
        (Printed.ALONE, "One recording alone"),
        (Printed.WEIGH, "Hanging weights"),
        (Printed.INSPECT, "What files hold"),
        (Printed.PLAN, "The plan"),
    ):
        schema = schema_of(command)
        lines.append(f"## {title}: `wattwitness {command} --format json`\n")
        lines.append("| key | type | meaning |\n| --- | --- | --- |")
        lines += [f"| `{key}` | {kind} | {_cell(meaning)} |" for key, kind, meaning in _keys(schema, schema)]
        lines.append(f"\n`wattwitness schema --of {command}`:\n")
        lines.append(f"```json\n{json.dumps(schema, indent=1, ensure_ascii=False)}\n```\n")
    return "\n".join(lines) + "\n"


def _keys(schema: Any, part: dict[str, Any], prefix: str = "") -> Iterator[tuple[str, str, str]]:
    """Key, type and description of every property below ``part``, following references; estimates are not opened."""
    for name, child in part.get("properties", {}).items():
        key, kind, seen = f"{prefix}{name}", "", child
        if "$ref" in child:
            target = child["$ref"].rsplit("/", 1)[-1]
            seen, kind = {**schema["$defs"][target], **child}, target
        items = seen.get("items", {})
        if "$ref" in items:
            items = schema["$defs"][items["$ref"].rsplit("/", 1)[-1]]
        kind = kind or _type_of(seen)
        yield key, kind, seen.get("description", "")
        if kind != "estimate":
            for one in (seen, *seen.get("anyOf", ())):
                yield from _keys(schema, one, f"{key}.")
        if key not in AS_AT_THE_TOP:
            yield from _keys(schema, items, f"{key}[].")


def _type_of(part: dict[str, Any]) -> str:
    """The JSON type of a property, in words."""
    if "enum" in part:
        return "one of " + ", ".join(f"`{json.dumps(value)}`" for value in part["enum"])
    if "const" in part:
        return f"`{json.dumps(part['const'])}`"
    if "anyOf" in part:
        return " or ".join(_type_of(one) for one in part["anyOf"])
    kinds = part.get("type", "")
    return " or ".join(kinds) if isinstance(kinds, list) else str(kinds)


def registries_page() -> str:
    """What is registered, by kind, with the first sentence of what each says of itself."""
    lines = ["# What is registered\n"]
    for title, module, name in REGISTRIES:
        lines.append(f"## {title}\n")
        if not importlib.util.find_spec(module):
            continue
        for item in getattr(importlib.import_module(module), name):
            lines.append(f"- `{item.name}`{_said_of(item)}")
        lines.append("")
    return "\n".join(lines) + "\n"


def _said_of(item: Any) -> str:
    """``: what it is``, from its summary or title or its builder's docstring."""
    said = getattr(item, "summary", "") or getattr(item, "title", "")
    build = getattr(item, "build", None)
    said = said or (getattr(build, "__doc__", "") or "").strip().split("\n\n")[0]
    return f": {' '.join(str(said).split())}" if said else ""


def library_page(room: str) -> str:
    """A page of one room: its modules, each drawn from its docstrings."""
    package = importlib.import_module(f"wattwitness.{room}")
    names = sorted(module.name for module in pkgutil.iter_modules(package.__path__))
    lines = [f"# {room}\n", f"{(package.__doc__ or '').strip()}\n"]
    for name in names:
        lines.append(f"## {room}.{name}\n\n::: wattwitness.{room}.{name}\n")
    return "\n".join(lines) + "\n"


def contributing_page() -> str:
    """CONTRIBUTING.md with its links into ``docs/`` made relative to the site."""
    text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    return re.sub(r"\]\(docs/", "](", text)


def _prose(text: str | None) -> str:
    return "\n\n".join(" ".join(part.split()) for part in (text or "").replace("\b", "").split("\n\n"))


def _code(text: str) -> str:
    """Code in a cell of a table; Markdown would show the backslash before a bar."""
    return f"<code>{html.escape(text).replace('|', '&#124;')}</code>"


def _cell(text: str | None) -> str:
    return " ".join((text or "").split()).replace("|", "\\|")
