"""Private data in TCX and GPX: positions, numbers of devices, and every text that is neither number nor time."""

from __future__ import annotations

import re
from collections.abc import Mapping

from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.private_found import Found
from wattwitness.readers.xml_safe import read_elements

POSITIONS = frozenset({"latitudedegrees", "longitudedegrees", "lat", "lon"})
SERIALS = frozenset({"unitid", "productid", "serial", "serialnumber", "deviceid", "id_device", "partnumber"})
_TIME = re.compile(r"\d{4}-\d\d-\d\dT[\d:.,]+(?:Z|[+-][\d:]+)?")
_NUMBER = re.compile(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?")
TECHNICAL = frozenset({"intensity", "triggermethod", "sensorstate", "buildtype", "langid"})
TECHNICAL_ATTRIBUTES = frozenset({"schemalocation", "version", "type", "nil"})


class _Search:
    """Takes every element of a file; attributes and text alike."""

    def __init__(self) -> None:
        self.found = Found()

    def begin(self, name: str, attributes: Mapping[str, str]) -> None:
        """Take the attributes of an element."""
        for key, value in attributes.items():
            plain = key.rpartition("}")[2].rpartition(":")[2].lower()
            if plain not in TECHNICAL_ATTRIBUTES:
                self._judge(plain, f"{name}, {plain}", value)

    def finish(self, name: str, parent: str, text: str) -> None:
        """Take the text of an element."""
        if text and name not in TECHNICAL:
            self._judge(name, f"{parent} > {name}" if parent else name, text)
        if name in ("heartratebpm", "hr"):
            self.found.add(PrivateKind.HEART, name)

    def _judge(self, name: str, where: str, text: str) -> None:
        if name in POSITIONS:
            self.found.add(PrivateKind.POSITION, where)
        elif name in SERIALS:
            self.found.add(PrivateKind.SERIAL, where, text)
        elif _TIME.fullmatch(text):
            self.found.add(PrivateKind.TIME, where)
        elif not _NUMBER.fullmatch(text):
            self.found.add(PrivateKind.NAME, where, text)


def private_in_xml(content: bytes) -> tuple[PrivateItem, ...]:
    """All findings in an XML file, as far as it can be parsed."""
    search = _Search()
    read_elements(content, "", search)
    return search.found.items()
