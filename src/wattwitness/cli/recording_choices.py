"""Recordings as named on the command line, each with its name and mapping."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from wattwitness.workflows.compare import RecordingChoice


def recording_choices(
    recordings: Sequence[str], names: Sequence[str], mappings: Sequence[str]
) -> list[RecordingChoice]:
    """Each file with what to call it and the mapping it is read with. Raises UsageError where they do not fit."""
    from wattwitness.workflows.compare import RecordingChoice

    if len(names) > len(recordings):
        raise click.UsageError(f"{len(names)} names were given for {len(recordings)} files.")
    if len(mappings) not in (0, 1, len(recordings)):
        raise click.UsageError("--mapping goes once, for every table, or once for each file; “none” skips a file.")
    each = tuple(mappings) if len(mappings) == len(recordings) else (*mappings, "none")[:1] * len(recordings)
    return [
        RecordingChoice(argument=file, label=name, mapping=None if mapping == "none" else Path(mapping))
        for file, name, mapping in zip(recordings, (*names, *("",) * len(recordings)), each, strict=False)
    ]
