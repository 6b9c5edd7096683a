"""A folder of ours, written whole or not at all; another's is never replaced."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path

from wattwitness.model.errors import OutputExists, OutputNotWritable
from wattwitness.render.publication_readme import LIST, MADE_BY

UNFINISHED = ".wattwitness-"
"""How a folder begins that is still being written."""


def check_folder(folder: Path, *, replace: bool) -> None:
    """Refuse, before any work, a folder that cannot or must not be written.

    Only a folder that an earlier publication filled is replaced, and only where nothing else was put into it. Raises
    OutputExists, OutputNotWritable.
    """
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise OutputNotWritable(
            "Something that is no ordinary folder stands there, and it was left as it is.",
            where=str(folder),
            hint="Name a folder that does not exist yet.",
        )
    if not folder.resolve().parent.is_dir():
        raise OutputNotWritable(
            "There is no such folder to write into.", where=str(folder.parent), hint="Make it first, or name another."
        )
    if not folder.exists() or not any(folder.iterdir()):
        return
    if not replace:
        raise OutputExists(
            "The folder is not empty.",
            where=str(folder),
            hint="Name another folder, or add --replace to write over an earlier publication.",
        )
    strange = _strange(folder)
    if strange:
        raise OutputExists(
            "The folder holds something that no earlier publication put there, and it was left as it is.",
            where=str(folder / strange),
            hint="Name another folder, or move what is yours out of this one.",
        )


def write_folder(members: Iterable[tuple[str, bytes]], folder: Path, *, replace: bool) -> tuple[Path, ...]:
    """Write files, each with its name in the folder, beside it first and then in its place in one step.

    Names are the program's own and stay inside. Raises OutputExists, OutputNotWritable; nothing is left behind then,
    and what was there before is there still.
    """
    check_folder(folder, replace=replace)
    place = folder.resolve()
    names: list[str] = []
    try:
        part = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=place.parent))
    except OSError as error:
        raise _not_writable(folder, error) from error
    try:
        for name, content in members:
            target = part / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
            names.append(name)
        mask = os.umask(0)
        os.umask(mask)
        part.chmod(0o777 & ~mask)  # mkdtemp makes folders that only the owner can open
        _put(part, place, replace=replace)
    except OSError as error:
        raise _not_writable(folder, error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return tuple(folder / name for name in names)


def _put(part: Path, place: Path, *, replace: bool) -> None:
    """Move ``part`` to ``place``; an earlier publication there goes only once the new one stands."""
    check_folder(place, replace=replace)  # once more: writing took its time
    if not place.exists():
        part.replace(place)
        return
    earlier = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=place.parent))
    place.replace(earlier)
    try:
        part.replace(place)
    except OSError:
        earlier.replace(place)
        raise
    shutil.rmtree(earlier, ignore_errors=True)


def _strange(folder: Path) -> str:
    """The first thing in a folder that an earlier publication did not put there; empty where there is none."""
    try:
        listed = json.loads((folder / LIST).read_text("utf-8"))
        ours = {LIST, *(item["name"] for item in listed["files"])} if listed["made_by"] == MADE_BY else set()
    except (OSError, ValueError, KeyError, TypeError):
        ours = set()
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        inside = path.is_dir() and not path.is_symlink() and any(one.startswith(f"{name}/") for one in ours)
        if name not in ours and not inside:
            return name
    return ""


def _not_writable(folder: Path, error: OSError) -> OutputNotWritable:
    return OutputNotWritable(
        f"It cannot be written: {error.strerror or error}.",
        where=str(folder),
        hint="Check that you may write there and that the disk is not full.",
    )
