"""Command-line options made from the documented settings, so that the two cannot drift apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import Field, fields
from typing import Any, TypeVar

import click

from wattwitness.model.errors import SettingInvalid
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.settings import AloneSettings, CompareSettings

F = TypeVar("F", bound=Callable[..., Any])
Settings = TypeVar("Settings")

OFFSETS = "offsets_s"
STRETCHES = "stretches_out"


def setting_options(command: F) -> F:
    """Give ``command`` one option for each comparison setting; ``settings_from`` turns them back."""
    for item in reversed(fields(CompareSettings)):
        if item.name == OFFSETS:
            command = click.option(
                "--offset-s",
                OFFSETS,
                multiple=True,
                metavar="SECONDS|auto",
                help=f"{item.metadata['meaning']} Repeat it for each unit; “auto” has one estimated.",
            )(command)
            continue
        if item.name == STRETCHES:
            command = click.option(
                "--leave-out", STRETCHES, multiple=True, metavar="FROM:TO=REASON", help=item.metadata["meaning"]
            )(command)
            continue
        command = _option(item)(command)
    return command


def settings_from(options: dict[str, Any]) -> CompareSettings:
    """The settings given by ``options``; what was not given keeps its default.

    Raises SettingInvalid for a number out of its range or an offset that is none.
    """
    given = {name: value for name, value in options.items() if value is not None}
    given[OFFSETS] = tuple(_offset(text) for text in given.get(OFFSETS, ()))
    given[STRETCHES] = tuple(_stretch(text) for text in given.get(STRETCHES, ()))
    return _made(CompareSettings, given)


def alone_setting_options(command: F) -> F:
    """Give ``command`` one option for each setting of one recording alone."""
    for item in reversed(fields(AloneSettings)):
        command = _option(item)(command)
    return command


def alone_settings_from(options: dict[str, Any]) -> AloneSettings:
    """The settings given by ``options``. Raises SettingInvalid for a number out of its range."""
    return _made(AloneSettings, {name: value for name, value in options.items() if value is not None})


def _option(item: Field[Any]) -> Callable[[F], F]:
    """The option of one documented setting."""
    unit = "" if item.metadata["unit"] == "1" else f" in {item.metadata['unit']}"
    default = "" if item.default is None else f" Default: {item.default}."
    return click.option(
        "--" + item.name.replace("_", "-"),
        item.name,
        type=int if isinstance(item.default, int) else float,
        metavar="NUMBER",
        help=f"{item.metadata['meaning']} Number{unit}.{default}",
    )


def _made(kind: Callable[..., Settings], given: dict[str, Any]) -> Settings:
    try:
        return kind(**given)
    except SettingInvalid as error:
        option = None if error.where is None else "--" + error.where.replace("_", "-")
        raise SettingInvalid(error.what, where=option, hint=error.hint) from error


def _offset(text: str) -> float | None:
    if text == "auto":
        return None
    try:
        offset_s = float(text)
    except ValueError:
        offset_s = float("nan")
    if not abs(offset_s) < float("inf"):
        raise SettingInvalid(
            f"“{text}” is no clock offset.",
            where="--offset-s",
            hint="Give seconds, such as 12.5 or -3600, or “auto”.",
        )
    return offset_s


def _stretch(text: str) -> LeftOutStretch:
    times, _, reason = text.partition("=")
    try:
        from_s, to_s = (float(part) for part in times.split(":"))
        return LeftOutStretch(from_s=from_s, to_s=to_s, reason=" ".join(reason.split()))
    except ValueError as error:
        raise SettingInvalid(
            f"“{text}” is no stretch to leave out.",
            where="--leave-out",
            hint="Give seconds after the reference's first sample, and why: --leave-out 750:840=a-bottle.",
        ) from error
