"""What every writer is: a format's name and ending, what it can hold, and how to write it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from wattwitness.model.recording import ChannelName, Recording


class Write(Protocol):
    """Writes one recording to ``path``."""

    def __call__(
        self, recording: Recording, path: Path, *, overwrite: bool = False, start_utc_s: float | None = None
    ) -> None:
        """Write the file whole or not at all.

        ``start_utc_s`` (seconds since 1970 UTC) dates a recording that has no date of its own. Raises OutputExists
        unless ``overwrite``, OutputNotWritable, NoSamples where the format can hold nothing of the recording, and
        DateMissing where the format needs a date and there is none.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Writer:
    """One format. ``channels`` is what it can hold; the others are left out. ``step_s``: its finest time stamp."""

    name: str
    title: str
    suffix: str
    channels: frozenset[ChannelName]
    step_s: float
    needs_date: bool
    write: Write
