"""GPX: tracks whose points carry power, cadence and heart rate in extensions. Positions are not read."""

from __future__ import annotations

from collections.abc import Mapping

from wattwitness.model.recording import ChannelName, MeterRecord, Recording
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader
from wattwitness.readers.words import plain_text
from wattwitness.readers.xml_head import root_name
from wattwitness.readers.xml_points import Dialect, PointCollector, full_notice, recordings_of
from wattwitness.readers.xml_safe import read_elements

DIALECT = Dialect(
    point="trkpt",
    time="time",
    part="trk",
    breaks=frozenset({"trkseg"}),
    # The names in use among extensions; common practice, no one schema holds them all.
    fields={
        "power": ChannelName.POWER,
        "powerinwatts": ChannelName.POWER,
        "watts": ChannelName.POWER,
        "cad": ChannelName.CADENCE,
        "cadence": ChannelName.CADENCE,
        "hr": ChannelName.HEART_RATE,
        "heartrate": ChannelName.HEART_RATE,
        "heartratebpm": ChannelName.HEART_RATE,
        "speed": ChannelName.SPEED,
        "atemp": ChannelName.TEMPERATURE,
        "temp": ChannelName.TEMPERATURE,
        "temperature": ChannelName.TEMPERATURE,
    },
    nested={"heartratebpm": ChannelName.HEART_RATE},
)


class _Collector(PointCollector):
    """Points, and the name of what wrote the file."""

    def __init__(self) -> None:
        super().__init__(DIALECT)
        self.creator = ""

    def noticed(self, name: str, attributes: Mapping[str, str]) -> None:
        if name == "gpx":
            self.creator = plain_text(attributes.get("creator", ""))


def sniff(head: FileHead) -> bool:
    """Whether the file's root element is that of GPX."""
    return (root_name(head.first_bytes) or "").lower() == "gpx"


def read(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read every track in a GPX file. Raises NoSamples, UnsafeXml or CorruptFile."""
    collector = _Collector()
    flaws = read_elements(opened.content, opened.file_name, collector)
    return recordings_of(
        opened,
        collector.parts,
        format_name=READER.name,
        meter=MeterRecord(product=collector.creator),
        notices=flaws + full_notice(collector),
    )


READER = Reader(
    name="gpx", title="GPX track", suffixes=(".gpx", ".xml"), sniff=sniff, read=read, limit_bytes=100 * MEBIBYTE
)
