"""Bytes of a text table into lines: encoding, NUL bytes, endless lines. Memory is bounded by one chunk and one line."""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import BinaryIO

CHUNK_CHARS = 1 << 18
MAX_LINE_CHARS = 1 << 16
QUOTED_HEADING_LINES = 60
QUOTED_LINES = 5

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(slots=True)
class TextDamage:
    """What had to be mended while the lines were read; counts grow as reading goes on.

    ``ends_open``: the last line has no line end, as in a file that was cut.
    """

    nul_bytes: int = 0
    undecodable: int = 0
    overlong_lines: int = 0
    ends_open: bool = False


@dataclass(slots=True)
class TextSource:
    """An open file as lines of text without their line ends, blank lines included.

    Lines longer than ``MAX_LINE_CHARS`` come out empty and are counted, so that a file without line ends cannot fill
    the memory and line numbers stay right.
    """

    stream: BinaryIO
    encoding: str
    damage: TextDamage = field(default_factory=TextDamage)

    def lines(self) -> Iterator[str]:
        """Yield the lines in order.

        Near the top, where headings stand, a quoted cell may run over several lines: they come out as one, followed by
        empty ones. Further down a quote that is not closed is a slip, and must not swallow the rows below it.
        """
        lines = self._plain_lines()
        yield from _with_quoted_breaks(list(islice(lines, QUOTED_HEADING_LINES)))
        yield from lines

    def _plain_lines(self) -> Iterator[str]:
        text = io.TextIOWrapper(self.stream, encoding=self.encoding, errors="replace", newline=None)
        rest, overlong = "", False
        while chunk := text.read(CHUNK_CHARS):
            pieces = (rest + self._mended(chunk)).split("\n")
            rest = pieces.pop()
            for piece in pieces:
                yield "" if overlong else self._bounded(piece)
                overlong = False
            if len(rest) > MAX_LINE_CHARS:
                if not overlong:
                    self._bounded(rest)
                rest, overlong = "", True
        self.damage.ends_open = bool(rest) or overlong
        if self.damage.ends_open:
            yield "" if overlong else self._bounded(rest)
        text.detach()

    def _mended(self, chunk: str) -> str:
        self.damage.undecodable += chunk.count("\ufffd")
        if "\0" in chunk:
            self.damage.nul_bytes += chunk.count("\0")
            chunk = chunk.replace("\0", "")
        return chunk

    def _bounded(self, line: str) -> str:
        if len(line) <= MAX_LINE_CHARS:
            return line
        self.damage.overlong_lines += 1
        return ""


def _with_quoted_breaks(lines: list[str]) -> Iterator[str]:
    index = 0
    while index < len(lines):
        joined, end = lines[index], index + 1
        while joined.count('"') % 2 and end < min(len(lines), index + QUOTED_LINES):
            joined, end = f"{joined} {lines[end]}", end + 1
        if joined.count('"') % 2:
            joined, end = lines[index], index + 1
        yield joined
        yield from [""] * (end - index - 1)
        index = end


def detect_encoding(head: bytes) -> str:
    """The encoding of a text file from its first bytes: by its mark, else UTF-16 by its NULs, UTF-8, or Western.

    Western is Windows code page 1252 where every byte has a meaning there, otherwise Latin-1, which decodes anything.
    """
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name
    wide = _wide_without_mark(head)
    if wide:
        return wide
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head, final=False)
    except UnicodeDecodeError:
        return _western(head)
    return "utf-8"


def _western(head: bytes) -> str:
    try:
        head.decode("cp1252")
    except UnicodeDecodeError:
        return "latin-1"
    return "cp1252"


def _wide_without_mark(head: bytes) -> str:
    """UTF-16 written without a mark: for plain letters every second byte is NUL."""
    even, odd = head[0::2], head[1::2]
    if len(odd) < 8:
        return ""
    even_share, odd_share = even.count(0) / len(even), odd.count(0) / len(odd)
    if odd_share > 0.7 and even_share < 0.1:
        return "utf-16-le"
    if even_share > 0.7 and odd_share < 0.1:
        return "utf-16-be"
    return ""


def looks_binary(text: str) -> bool:
    """Whether control characters show that this is no text (NUL, tab and line ends aside)."""
    controls = sum(text.count(chr(code)) for code in range(1, 32) if code not in (9, 10, 12, 13))
    return controls > max(2, len(text) // 200)
