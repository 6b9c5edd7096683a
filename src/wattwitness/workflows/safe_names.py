"""Names that came from elsewhere, made fit to be a file's name on any system."""

from __future__ import annotations

import re
import unicodedata

MOST_BYTES = 150
"""Room for a number before it, under the 255 bytes that file systems give a name."""
MOST_ENDING = 12
RESERVED = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(\.|$)", re.IGNORECASE)
NOT_IN_NAMES = re.compile(r'[<>:"|?*]')
NAMELESS = "recording"


def safe_name(text: str) -> str:
    """The last part of a path, without what some system takes for more than a letter; never empty, nor hidden."""
    last = re.split(r"[/\\]", text)[-1]
    seen = "".join(one for one in unicodedata.normalize("NFC", last) if unicodedata.category(one)[0] != "C")
    name = _cut(NOT_IN_NAMES.sub("_", seen).strip().lstrip(".").rstrip(". ").strip())
    if RESERVED.match(name):
        name = f"_{name}"
    return name or NAMELESS


def safe_folder(text: str) -> str:
    """A path of folders as one name; empty for none."""
    parts = [part for part in re.split(r"[/\\]", text) if part.strip(" .")]
    return safe_name(" - ".join(parts)) if parts else ""


def _cut(name: str) -> str:
    """At most ``MOST_BYTES`` in UTF-8, with the ending kept."""
    if len(name.encode()) <= MOST_BYTES:
        return name
    stem, point, ending = name.rpartition(".")
    if not stem or len(ending.encode()) > MOST_ENDING:
        stem, point, ending = name, "", ""
    room = MOST_BYTES - len(f"{point}{ending}".encode())
    return f"{stem.encode()[:room].decode(errors='ignore').rstrip()}{point}{ending}"
