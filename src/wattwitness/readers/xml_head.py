"""The beginning of an XML file: its encoding, its root element, and whether it defines entities."""

from __future__ import annotations

import codecs
import re

WIDE_ENCODINGS = (
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
    (b"<\0\0\0", "utf-32-le"),
    (b"\0\0\0<", "utf-32-be"),
    (b"<\0", "utf-16-le"),
    (b"\0<", "utf-16-be"),
)
"""Beginnings of XML in the encodings that do not hold ASCII as it is (XML 1.0, appendix F)."""

_BEFORE_ROOT = re.compile(
    r"(?:\s|\0|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>)*<(?P<root>[^\s<>/?!\0][^\s<>/\0]*)", re.DOTALL
)


def wide_encoding(head: bytes) -> str | None:
    """Return the UTF-16 or UTF-32 encoding that bytes begin in; ``None`` where ASCII stands as it is."""
    return next((name for mark, name in WIDE_ENCODINGS if head.startswith(mark)), None)


def narrow_text(head: bytes) -> str:
    """Decode the beginning of a file far enough to read its markup."""
    encoding = wide_encoding(head)
    return head.decode(encoding or "utf-8", errors="replace").removeprefix("\ufeff")


def root_name(head: bytes) -> str | None:
    """Return the local name of an XML file's root element; ``None`` if there is none in ``head``."""
    text = narrow_text(head[:65536])
    if not text.lstrip("\0 \t\r\n").startswith("<"):
        return None
    found = _BEFORE_ROOT.match(text)
    return found["root"].rpartition(":")[2] if found else None


def begins_as_xml(head: bytes) -> bool:
    """Whether the first character that is no blank is an opening bracket."""
    return narrow_text(head[:4096]).lstrip("\0 \t\r\n").startswith("<")
