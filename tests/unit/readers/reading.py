"""Read bytes as a file of a given name would be."""

from __future__ import annotations

from pathlib import Path

import pytest

from wattwitness.model.recording import Recording
from wattwitness.readers.open import read_recordings

RECORDINGS = Path(__file__).parents[3].parent / "shared" / "recordings"

needs_recordings = pytest.mark.skipif(
    not RECORDINGS.is_dir(), reason=f"the folder of real recordings is not here: {RECORDINGS}"
)


def read_bytes_as(folder: Path, content: bytes, name: str = "ride.fit") -> tuple[Recording, ...]:
    path = folder / name
    path.write_bytes(content)
    return read_recordings(path)


def slugs(recording: Recording) -> dict[str, int | None]:
    """The slugs of a recording's notices, with how many samples each touched."""
    return {notice.slug: notice.samples for notice in recording.notices}
