"""Progress on standard error: one line that rewrites itself on a terminal, and nothing elsewhere or in quiet."""

from __future__ import annotations

import sys
from types import TracebackType

CLEAR_LINE = "\r\x1b[2K"


class StatusLine:
    """Shows the stage at work while the block runs, and leaves no trace of it."""

    def __init__(self, *, quiet: bool) -> None:
        """Show nothing if ``quiet`` or if standard error is no terminal."""
        self._shown = not quiet and sys.stderr.isatty()

    def __enter__(self) -> StatusLine:
        """Start with an empty line."""
        return self

    def __call__(self, stage: str) -> None:
        """Show ``stage`` in place of the one before."""
        if self._shown:
            sys.stderr.write(f"{CLEAR_LINE}{stage} …")
            sys.stderr.flush()

    def clear(self) -> None:
        """Take the line away, before something else is shown."""
        if self._shown:
            sys.stderr.write(CLEAR_LINE)
            sys.stderr.flush()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Clear the line, whatever happened."""
        self.clear()
