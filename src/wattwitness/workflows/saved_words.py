"""Small texts on the disk that are there whole or not at all, whatever happens while they are written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def put_text(path: Path, text: str) -> None:
    """Write ``text`` in place of what was there; a reader sees the old or the new. Raises OSError."""
    handle, name = tempfile.mkstemp(prefix=".part-", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
