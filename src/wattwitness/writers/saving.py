"""A file appears whole or not at all, and never in the place of another unless that was asked for."""

from __future__ import annotations

import os
from pathlib import Path

from wattwitness.model.errors import OutputExists, OutputNotWritable


def save(content: bytes, path: Path, *, overwrite: bool) -> None:
    """Write ``content`` beside ``path`` and move it there. Raises OutputExists and OutputNotWritable.

    What is no ordinary file (a folder, a device) is left as it is; of a link the file it points to is replaced.
    """
    if not overwrite and path.exists():
        raise _exists(path)
    if path.exists() and not path.is_file():
        raise OutputNotWritable(
            "Something that is no ordinary file stands there, and it was left as it is.",
            where=str(path),
            hint="Name an ordinary file, or one that does not exist yet.",
        )
    path = path.resolve()
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("xb") as stream:
            stream.write(content)
        _move(part, path, overwrite)
    except OSError as error:
        raise OutputNotWritable(
            f"The file cannot be written: {error.strerror or error}.",
            where=str(path),
            hint="Name a folder that exists and that you may write to.",
        ) from error
    finally:
        part.unlink(missing_ok=True)


def _move(part: Path, path: Path, overwrite: bool) -> None:
    """Move ``part`` to ``path``; without ``overwrite`` also a file that has appeared in the meantime is kept."""
    if overwrite:
        part.replace(path)
        return
    try:
        path.hardlink_to(part)
    except FileExistsError:
        raise _exists(path) from None
    except OSError:
        # Some file systems have no hard links; there the check before writing has to do.
        part.replace(path)


def _exists(path: Path) -> OutputExists:
    return OutputExists(
        "There is a file of that name already, and it was left as it is.",
        where=str(path),
        hint="Choose another name or folder, or ask for it to be overwritten.",
    )
