"""Whether a file is a corrected copy, and what it says of itself."""

from __future__ import annotations

from wattwitness.model.corrected_copy import COMMENT, MARK, SLUG
from wattwitness.model.recording import Notice
from wattwitness.readers.fit_sections import looks_like_fit

LOOKED_AT = 4096
"""The mark stands at the beginning of the file."""


def bears_mark(content: bytes) -> bool:
    """Whether ``content`` bears the mark of a corrected copy: a remark of its own, not a word somewhere in a cell."""
    head = content[:LOOKED_AT]
    mark = f"{MARK}:".encode()
    if looks_like_fit(head):
        return mark in head
    lines = head.removeprefix(b"\xef\xbb\xbf").splitlines()
    return any(line.strip(b' "').startswith(COMMENT.encode() + mark) for line in lines)


def corrected_notices(content: bytes) -> tuple[Notice, ...]:
    """A warning where the file is a corrected copy."""
    if not bears_mark(content):
        return ()
    message = (
        "This is a corrected copy: its power is not what the meter showed, so what is found here says how good the "
        "correction is and nothing of the meter as it stands. The original's SHA-256 stands in the file."
    )
    return (Notice(slug=SLUG, message=message),)
