"""XML read without entities, definitions, network or unbounded memory, and recovered where it is malformed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Protocol

from wattwitness.model.errors import CorruptFile, UnsafeXml
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.words import count_of, plain_text
from wattwitness.readers.xml_head import begins_as_xml, narrow_text, wide_encoding

DEPTH_LIMIT = 64
"""Recordings nest about ten levels deep."""

TEXT_LIMIT = 256
"""Characters kept of an element's text: a number or a time stamp is shorter."""

NAME_LIMIT = 2000
"""Kinds of elements; recordings have some fifty."""

TAG_LIMIT = 65536
"""Bytes of one tag with its attributes."""

REPAIR_LIMIT = 1000
"""Bare brackets that are mended; a file with more of them is not XML."""

PIECE_BYTES = 1 << 16
_PLAIN_ENCODING = re.compile(r"utf-?8|us-ascii|iso-8859-\d{1,2}|latin-?1|windows-125\d", re.IGNORECASE)
_DECLARED = re.compile(r"""<\?xml[^>]*?encoding\s*=\s*["']([^"']{1,40})["']""")
_STRAY_BRACKET = re.compile(rb"<(?![A-Za-z_:/!?\x80-\xff])")
_LONG_TAG = re.compile(rb"<[A-Za-z_:][^<>]{%d}" % TAG_LIMIT)
_UNFINISHED = frozenset({"ERR_TAG_NOT_FINISHED", "ERR_DOCUMENT_END", "ERR_GT_REQUIRED", "ERR_LTSLASH_REQUIRED"})


class Enough(Exception):
    """Raised by a handler that wants no more."""


class ElementHandler(Protocol):
    """Takes elements as they begin and end. Names are without namespace or prefix, in lower case."""

    def begin(self, name: str, attributes: Mapping[str, str]) -> None:
        """Take the beginning of an element."""

    def finish(self, name: str, parent: str, text: str) -> None:
        """Take the end of an element, with its own text (stripped) and its parent's name (empty for the root)."""


def refuse_entities(content: bytes, file_name: str) -> None:
    """Raise UnsafeXml where a file that begins as XML defines an entity anywhere.

    No recording needs one, and a few lines of them unfold to gigabytes or read other files of the machine. The search
    is over the whole file, since a definition can stand behind any amount of comment.
    """
    if not begins_as_xml(content):
        return
    marker = "<!ENTITY"
    codes = ["utf-8"]
    if wide_encoding(content) is not None:
        codes += ["utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"]
    if any(marker.encode(code) in content for code in codes):
        raise UnsafeXml(
            "The file defines XML entities, which no recording needs and which can exhaust or spy on a computer; it "
            "was not read.",
            where=file_name,
            hint="Export the ride again from where it was recorded; do not trust who sent this file.",
        )


def read_elements(content: bytes, file_name: str, handler: ElementHandler) -> tuple[Notice, ...]:
    """Hand every element of an XML file to ``handler``, and return what was wrong with the file.

    No tree is built, so memory does not grow with the file. Malformed XML is recovered as far as it goes (an unbound
    prefix keeps its element, a bare ampersand is passed over, a cut-off file ends where it is cut). Raises UnsafeXml
    for entities, and CorruptFile for what no recording has: endless nesting, tags or kinds of elements.
    """
    from lxml import etree

    refuse_entities(content, file_name)
    content, repaired = _narrow(content)
    if _LONG_TAG.search(content):
        raise _unlike_a_recording(file_name, f"It has a tag of more than {TAG_LIMIT:,} characters")
    # The stubs ask a target for every event there is; lxml asks it only for those it has.
    guard: Any = _Guard(handler, file_name)
    # Encodings beyond the usual could hide what was looked for above, and none of them is used for recordings.
    parser = etree.XMLParser(
        target=guard,
        encoding=_encoding(content),
        recover=True,
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        for start in range(0, len(content), PIECE_BYTES):
            parser.feed(content[start : start + PIECE_BYTES])
        parser.close()
    except Enough:
        return repaired
    except etree.XMLSyntaxError as error:
        return (*repaired, _malformed(1, error.lineno or 0, error.msg or "", unfinished=False))
    return repaired + _flaws(parser.feed_error_log)


class _Guard:
    """Sits between the parser and a handler: local names, text in bounds, depth in bounds."""

    def __init__(self, handler: ElementHandler, file_name: str) -> None:
        self._handler = handler
        self._file_name = file_name
        self._names: dict[str, str] = {}
        self._open: list[str] = [""]
        self._text: list[str] = []
        self._length = 0

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        name = self._names.get(tag)
        if name is None:
            name = tag.rpartition("}")[2].rpartition(":")[2].lower()
            if len(self._names) == NAME_LIMIT:
                raise _unlike_a_recording(self._file_name, f"It holds more than {NAME_LIMIT:,} kinds of elements")
            self._names[tag] = name
        self._open.append(name)
        if len(self._open) > DEPTH_LIMIT:
            raise _unlike_a_recording(self._file_name, f"It is nested more than {DEPTH_LIMIT} levels deep")
        self._text.clear()
        self._length = 0
        self._handler.begin(name, attributes)

    def data(self, text: str) -> None:
        if self._length < TEXT_LIMIT:
            self._text.append(text[:TEXT_LIMIT])
            self._length += len(text)

    def end(self, _tag: str) -> None:
        name = self._open.pop()
        text = "".join(self._text).strip()
        self._text.clear()
        self._length = 0
        self._handler.finish(name, self._open[-1], text)

    def close(self) -> None:
        """End of the file."""


def _unlike_a_recording(file_name: str, what: str) -> CorruptFile:
    return CorruptFile(
        f"The XML is like no recording of a ride, and was not read. {what}.",
        where=file_name,
        hint="Export the ride again from where it was recorded.",
    )


def _narrow(content: bytes) -> tuple[bytes, tuple[Notice, ...]]:
    """Return the file in an encoding that holds ASCII as it is, with bare opening brackets escaped, and a notice.

    A bracket that opens no tag ends the parser's recovery, and would cost all that follows.
    """
    wide = wide_encoding(content)
    if wide is not None:
        content = content.decode(wide, errors="replace").encode()
    if b"<![CDATA[" in content:
        return content, ()
    content, number = _STRAY_BRACKET.subn(b"&lt;", content, count=REPAIR_LIMIT)
    if not number:
        return content, ()
    message = f"The XML is malformed: {count_of(number, 'bracket')} in it open no element; they were taken as text."
    return content, (Notice(slug="malformed_xml", message=message),)


def _encoding(content: bytes) -> str | None:
    """``None`` where the parser may follow the file's own statement, else UTF-8.

    A file that was in UTF-16 or UTF-32 still says so, and is in UTF-8 by now.
    """
    declared = _DECLARED.search(narrow_text(content[:1024]))
    return None if declared is not None and _PLAIN_ENCODING.fullmatch(declared[1]) else "utf-8"


def _flaws(log: Any) -> tuple[Notice, ...]:
    entries = [entry for entry in log if not entry.type_name.startswith("WAR_")]
    if not entries:
        return ()
    first = entries[0]
    unfinished = any(entry.type_name in _UNFINISHED for entry in entries)
    return (_malformed(len(entries), first.line, first.message, unfinished=unfinished),)


def _malformed(number: int, line: int, message: str, *, unfinished: bool) -> Notice:
    if unfinished and number == 1:
        return Notice(slug="truncated", message="The XML breaks off before its end; what is there was read.")
    places = count_of(number, "place") if number < 100 else "100 places or more"
    said = plain_text(message, 100).rstrip(".")
    return Notice(
        slug="malformed_xml",
        message=f"The XML is malformed in {places} (the first in line {line}: {said}); what could be read was kept.",
        severity=Severity.WARNING,
    )
