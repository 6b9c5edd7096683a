"""The layout of a FIT file: one or more chained sections, each a header, a body and a checksum.

Only the layout is read here, so that damage in one section costs no other; what is in a body is read by fitdecode.
The header and the checksum are those of the FIT protocol (header of 12 or 14 bytes: size, protocol, profile, body size,
".FIT", checksum of the header where 14; a two-byte checksum after the body). From memory, and held in the tests against
fitdecode and real files.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wattwitness.model.recording import Notice
from wattwitness.readers.reader import PART_LIMIT
from wattwitness.readers.words import count_of

MAGIC = b".FIT"
SHORT_HEADER = 12
LONG_HEADER = 14
BLOCK = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitSection:
    """Bytes ``body_start`` to ``body_end`` of a file, and what is wrong with them."""

    body_start: int
    body_end: int
    notices: tuple[Notice, ...]


def looks_like_fit(head: bytes) -> bool:
    """Whether bytes begin with a FIT header."""
    return _is_header(head, 0)


def split_sections(content: bytes) -> tuple[tuple[FitSection, ...], tuple[Notice, ...]]:
    """Find the sections of a FIT file, and what is wrong outside of them."""
    sections: list[FitSection] = []
    outside: list[Notice] = []
    position = 0
    while position < len(content):
        if len(sections) == PART_LIMIT:
            message = f"The file holds more than {PART_LIMIT} sections; the rest was left unread."
            outside.append(Notice(slug="too_many_parts", message=message))
            break
        if not _is_header(content, position):
            following = _next_header(content, position)
            lost = (len(content) if following is None else following) - position
            if content[position : position + lost].strip(b"\0"):
                outside.append(_unreadable(lost))
            if following is None:
                break
            position = following
        section, position = _section(content, position)
        sections.append(section)
    return tuple(sections), tuple(outside)


def _section(content: bytes, start: int) -> tuple[FitSection, int]:
    """The section whose header is at ``start``, and where the next one should be."""
    header_size = content[start]
    (body_size,) = struct.unpack_from("<I", content, start + 4)
    body_start = start + header_size
    body_end = body_start + body_size
    notices: list[Notice] = []
    if header_size >= LONG_HEADER and body_start <= len(content):
        (stored,) = struct.unpack_from("<H", content, start + SHORT_HEADER)
        if stored not in (0, fit_crc(content[start : start + SHORT_HEADER])):
            notices.append(
                Notice(
                    slug="header_checksum_wrong", message="The header's checksum is wrong; the file was read anyway."
                )
            )
    if body_size == 0:
        following = _next_header(content, body_start)
        body_end = len(content) if following is None else following
        notices.append(
            Notice(
                slug="never_closed",
                message="The recorder never closed the file (its header states no length); what it wrote was read.",
            )
        )
        return FitSection(body_start=min(body_start, body_end), body_end=body_end, notices=tuple(notices)), body_end
    if body_end > len(content):
        following = _next_header(content, body_start)
        cut = len(content) if following is None else following
        missing = body_end - cut
        notices.append(
            Notice(
                slug="truncated",
                message=f"The file ends {count_of(missing, 'byte')} early; what is there was read.",
            )
        )
        return FitSection(body_start=min(body_start, cut), body_end=cut, notices=tuple(notices)), cut
    return _checked(content, start, body_start, body_end, notices)


def _checked(
    content: bytes, start: int, body_start: int, body_end: int, notices: list[Notice]
) -> tuple[FitSection, int]:
    """A section that is all there: hold it against its checksum, and its length against what follows."""
    after = body_end + 2
    if after > len(content):
        notices.append(Notice(slug="truncated", message="The file ends before its checksum; what is there was read."))
        return FitSection(body_start=body_start, body_end=body_end, notices=tuple(notices)), len(content)
    (stored,) = struct.unpack_from("<H", content, body_end)
    if stored != fit_crc(content[start:body_end]):
        if after < len(content) and not _is_header(content, after):
            # A recorder that lost power states the length of an earlier moment: its records go on.
            following = _next_header(content, after)
            body_end = after = len(content) if following is None else following
            message = "The stated length and the checksum are wrong; all that follows was read."
        else:
            message = "The checksum is wrong: some values may be damaged. What could be read was kept."
        notices.append(Notice(slug="checksum_wrong", message=message))
    return FitSection(body_start=body_start, body_end=body_end, notices=tuple(notices)), after


def _is_header(content: bytes, start: int) -> bool:
    return (
        len(content) >= start + SHORT_HEADER
        and content[start] in (SHORT_HEADER, LONG_HEADER)
        and content[start + 8 : start + SHORT_HEADER] == MAGIC
    )


def _next_header(content: bytes, start: int) -> int | None:
    """Where the next header begins at or after ``start``."""
    found = content.find(MAGIC, start + 8)
    while found >= 0:
        if _is_header(content, found - 8):
            return found - 8
        found = content.find(MAGIC, found + 1)
    return None


def _unreadable(number: int) -> Notice:
    return Notice(
        slug="unreadable_bytes",
        message=f"{count_of(number, 'byte')} of the file belong to no readable section; left out.",
    )


def fit_crc(data: bytes) -> int:
    """Return the checksum of a FIT file: CRC-16 with the reflected polynomial 0xA001, starting at 0.

    From 0 the checksum is linear: that of a + b is that of a, moved on by the length of b, xor that of b. So it is
    taken of all bytes at once and combined pairwise, which numpy does far faster than a loop over bytes. Held in the
    tests against fitdecode's own and against the check value 0xBB3D of "123456789".
    """
    state = np.zeros(1, dtype=np.uint16)
    first = len(data) % BLOCK
    pieces = ([data[:first]] if first else []) + [data[i : i + BLOCK] for i in range(first, len(data), BLOCK)]
    for piece in pieces:
        # Leading zeros leave a checksum that starts at 0 unchanged.
        sums = _shifts()[0][0][np.frombuffer(piece.rjust(BLOCK, b"\0"), dtype=np.uint8)]
        for low, high in _shifts()[:-1]:
            sums = _moved_on(sums[0::2], low, high) ^ sums[1::2]
        state = _moved_on(state, *_shifts()[-1]) ^ sums
    return int(state[0])


@lru_cache(maxsize=1)
def _shifts() -> tuple[tuple[NDArray[np.uint16], NDArray[np.uint16]], ...]:
    """Tables that move a checksum on by 1, 2, 4, ... BLOCK zero bytes: of its low byte and of its high byte."""
    low = np.arange(256, dtype=np.uint16)
    for _ in range(8):
        low = np.where(low & 1, (low >> 1) ^ 0xA001, low >> 1).astype(np.uint16)
    high = np.arange(256, dtype=np.uint16)
    tables = [(low, high)]
    while 1 << len(tables) <= BLOCK:
        low, high = _moved_on(low, *tables[-1]), _moved_on(high, *tables[-1])
        tables.append((low, high))
    return tuple(tables)


def _moved_on(sums: NDArray[np.uint16], low: NDArray[np.uint16], high: NDArray[np.uint16]) -> NDArray[np.uint16]:
    moved: NDArray[np.uint16] = low[sums & 0xFF] ^ high[sums >> 8]
    return moved
