"""TCX: training centre XML, with power in the extensions of its track points under whatever prefix."""

from __future__ import annotations

from collections.abc import Mapping

from wattwitness.model.recording import ChannelName, MeterRecord, Recording
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader
from wattwitness.readers.words import plain_text
from wattwitness.readers.xml_head import root_name
from wattwitness.readers.xml_points import Dialect, PointCollector, full_notice, recordings_of
from wattwitness.readers.xml_safe import read_elements

ROOT = "TrainingCenterDatabase"

DIALECT = Dialect(
    point="trackpoint",
    time="time",
    part="activity",
    breaks=frozenset({"track", "lap"}),
    # Watts and speed (m/s) stand in extensions; RunCadence counts steps and is not a cadence of cranks.
    fields={
        "watts": ChannelName.POWER,
        "power": ChannelName.POWER,
        "cadence": ChannelName.CADENCE,
        "heartratebpm": ChannelName.HEART_RATE,
        "speed": ChannelName.SPEED,
        "temperature": ChannelName.TEMPERATURE,
        "resistance": ChannelName.RESISTANCE,
    },
    nested={"heartratebpm": ChannelName.HEART_RATE},
)


class _Collector(PointCollector):
    """Points, and what the file says of the recorder."""

    def __init__(self) -> None:
        super().__init__(DIALECT)
        self.creator: dict[str, str] = {}
        self._in_creator = False

    def noticed(self, name: str, _attributes: Mapping[str, str]) -> None:
        if name == "creator":
            self._in_creator = True

    def ended(self, name: str, parent: str, text: str) -> None:
        if name == "creator":
            self._in_creator = False
        elif self._in_creator and text:
            self.creator.setdefault(name, plain_text(text))
        elif name == "id" and parent == "activity" and self.parts:
            self.parts[-1].label = text

    def meter(self) -> MeterRecord:
        """The recorder's record; a number of zero means that none was set."""
        version = [self.creator.get(name, "") for name in ("versionmajor", "versionminor")]
        firmware = ".".join(part for part in version if part)
        serial = self.creator.get("unitid", "")
        return MeterRecord(
            product=self.creator.get("name", ""),
            firmware="" if firmware in ("0", "0.0") else firmware,
            serial="" if serial == "0" else serial,
        )


def sniff(head: FileHead) -> bool:
    """Whether the file's root element is that of TCX."""
    return root_name(head.first_bytes) == ROOT


def read(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read every activity in a TCX file. Raises NoSamples, UnsafeXml or CorruptFile."""
    collector = _Collector()
    flaws = read_elements(opened.content, opened.file_name, collector)
    return recordings_of(
        opened,
        collector.parts,
        format_name=READER.name,
        meter=collector.meter(),
        notices=flaws + full_notice(collector),
    )


READER = Reader(
    name="tcx", title="TCX activity file", suffixes=(".tcx", ".xml"), sniff=sniff, read=read, limit_bytes=100 * MEBIBYTE
)
