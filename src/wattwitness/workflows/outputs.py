"""What may be written where: nothing of the tester's is ever written over."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from wattwitness.model.errors import OutputExists


def path_of(argument: str) -> tuple[Path, Path]:
    """The file that ``FILE`` or ``FILE#2`` may mean, either way."""
    return Path(argument.rpartition("#")[0] or argument), Path(argument)


def refuse_overwriting(path: Path, inputs: Iterable[Path], *, replace: bool, overwrites: str) -> None:
    """Refuse, before any work is done, to write over one of ``inputs``, not even with ``replace``, or over anything
    without it. ``overwrites`` is the sentence for the first. Raises OutputExists.
    """
    if path.resolve() in {one.resolve() for one in inputs}:
        raise OutputExists(overwrites, where=str(path), hint="Give it another name.")
    if path.exists() and not replace:
        raise OutputExists(
            "There is something of that name already.",
            where=str(path),
            hint="Give another name, or add --replace to write over it.",
        )
