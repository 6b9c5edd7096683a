"""Text that is safe inside XML 1.0."""

from __future__ import annotations

import re
from xml.sax.saxutils import escape, quoteattr

# What XML 1.0 cannot hold at all, escaped or not (its production 2, “Char”).
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def element_text(text: str) -> str:
    """``text`` for between two tags."""
    return escape(_FORBIDDEN.sub("", text))


def attribute(text: str) -> str:
    """``text`` as an attribute's value, quotes included."""
    return quoteattr(_FORBIDDEN.sub("", text))
