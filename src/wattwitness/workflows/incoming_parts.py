"""A file while it is being sent: piece by piece to the disk, counted, and given its place only when it is whole."""

from __future__ import annotations

import hashlib
import os
import secrets
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from wattwitness.model.errors import CorruptFile, OutputNotWritable
from wattwitness.readers.open import LIMIT_BYTES
from wattwitness.workflows.incoming import (
    Arrival,
    arrival_of,
    arrived,
    disk_full,
    free_bytes,
    home_of,
    not_writable,
    too_large,
)
from wattwitness.workflows.safe_names import safe_name

STILL_SENT_S = 30.0
"""A part of another process that has grown within this time is still being sent."""
LOOK_AT_DISK_BYTES = 8 << 20
OURS = secrets.token_hex(4)


@dataclass(slots=True, kw_only=True)
class Receiving:
    """One file on its way in; ``end`` or ``give_up`` closes it."""

    bench: Path
    batch: str
    arrival: Arrival
    part: Path
    file: IO[bytes]
    size_bytes: int = 0
    looked_at: int = 0
    digest: Any = field(default_factory=hashlib.sha256)

    def take(self, piece: bytes) -> None:
        """Write the next bytes. Raises FileTooLarge, CorruptFile, OutputNotWritable."""
        self.size_bytes += len(piece)
        if self.size_bytes > LIMIT_BYTES:
            raise too_large(self.arrival.name)
        if self.size_bytes > self.arrival.size_bytes:
            raise self._changed("More bytes came")
        if self.size_bytes - self.looked_at > LOOK_AT_DISK_BYTES:
            self.looked_at = self.size_bytes
            if free_bytes(self.bench) < 0:
                raise disk_full(self.arrival.name)
        try:
            self.file.write(piece)
        except OSError as error:
            raise not_writable(self.bench, error) from error
        self.digest.update(piece)

    def end(self) -> Arrival:
        """All is here: bring it to the disk and give it its place.

        Raises CorruptFile where it is not as long as was announced, and what ``arrived`` raises.
        """
        if self.size_bytes != self.arrival.size_bytes:
            raise self._changed("Fewer bytes came")
        try:
            self.file.flush()
            os.fsync(self.file.fileno())
            self.file.close()
        except OSError as error:
            raise not_writable(self.bench, error) from error
        return arrived(
            self.bench,
            self.batch,
            self.arrival,
            self.part,
            size_bytes=self.size_bytes,
            sha256=self.digest.hexdigest(),
        )

    def _changed(self, came: str) -> CorruptFile:
        return CorruptFile(
            f"{came} than the {self.arrival.size_bytes:,} that were announced: it was changed while it was being sent, "
            "or it was cut short.",
            where=safe_name(self.arrival.name),
            hint="Choose it again when nothing is writing to it.",
        )

    def give_up(self) -> None:
        """Nothing of it is kept."""
        self.file.close()
        self.part.unlink(missing_ok=True)


def receive(bench: Path, batch: str, file: str) -> Receiving:
    """Begin to take a file that was announced. Raises UnknownName, OutputNotWritable."""
    arrival = arrival_of(bench, batch, file)
    part = home_of(bench, batch) / "parts" / f"{OURS}-{arrival.id}-{secrets.token_hex(3)}"
    try:
        return Receiving(bench=bench, batch=batch, arrival=arrival, part=part, file=part.open("xb"))
    except OSError as error:
        raise not_writable(bench, error) from error


def clean_parts(bench: Path, batch: str, *, patience_s: float = STILL_SENT_S) -> int:
    """Remove what a process that is no more left half sent; how many there were. Raises UnknownName."""
    removed = 0
    for part in (home_of(bench, batch) / "parts").glob("*"):
        if part.name.startswith(OURS):
            continue
        try:
            if time.time() - part.stat().st_mtime >= patience_s:
                part.unlink()
                removed += 1
        except FileNotFoundError:
            continue
        except OSError as error:
            raise OutputNotWritable(
                "What was left of a file cannot be removed.", where=part.name, hint="Remove it by hand."
            ) from error
    return removed
