"""XML read without entities, definitions, network or unbounded memory."""

from __future__ import annotations

from wattwitness.model.errors import UnsafeXml
from wattwitness.readers.xml_head import begins_as_xml, wide_encoding


def refuse_entities(content: bytes, file_name: str) -> None:
    """Raise UnsafeXml where a file that begins as XML defines an entity anywhere.

    No recording needs one, and a few lines of them unfold to gigabytes or read other files of the machine. The search
    is over the whole file, since a definition can stand behind any amount of comment.
    """
    if not begins_as_xml(content):
        return
    encoding = wide_encoding(content)
    marker = "<!ENTITY"
    found = marker.encode() in content
    if encoding is not None:
        found = found or any(
            marker.encode(code) in content for code in ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be")
        )
    if found:
        raise UnsafeXml(
            "The file defines XML entities, which no recording needs and which can exhaust or spy on a computer; it "
            "was not read.",
            where=file_name,
            hint="Export the ride again from where it was recorded; do not trust who sent this file.",
        )
