"""Files of ours, written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from wattwitness.model.errors import OutputExists, OutputNotWritable


def save(content: bytes, path: Path, *, replace: bool) -> None:
    """Write ``content`` to ``path`` in one step: a reader sees the old file or the new one, never half of it.

    Raises OutputExists where something is there and ``replace`` is not given, OutputNotWritable where the folder is
    missing or the file cannot be written; nothing is left behind then.
    """
    if path.is_dir():
        raise OutputNotWritable("A folder stands where the file should go.", where=str(path), hint="Name a file.")
    if path.exists() and not path.is_file():
        raise OutputNotWritable(
            "Something that is no ordinary file stands there, and it was left as it is.",
            where=str(path),
            hint="Name an ordinary file, or one that does not exist yet.",
        )
    if path.exists() and not replace:
        raise OutputExists(
            "There is something of that name already.",
            where=str(path),
            hint="Give another name, or ask for it to be replaced.",
        )
    try:
        # The file that a link points to is replaced, not the link.
        _save(content, path.resolve())
    except (OSError, ValueError) as error:
        raise OutputNotWritable(
            f"It cannot be written: {getattr(error, 'strerror', None) or error}.",
            where=str(path),
            hint="Check that the folder exists, that you may write there, and that the disk is not full.",
        ) from error


def make_folder(folder: Path) -> None:
    """Make ``folder`` with all above it. Raises OutputNotWritable."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise OutputNotWritable(
            f"The folder cannot be made: {getattr(error, 'strerror', None) or error}.",
            where=str(folder),
            hint="Name a folder in a place you may write to.",
        ) from error


def _save(content: bytes, path: Path) -> None:
    handle, name = tempfile.mkstemp(prefix=".wattwitness-", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o666 & ~mask)  # mkstemp makes files that only the owner can read
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
