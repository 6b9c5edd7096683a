"""What a file holds and what is wrong with it, in words and tables."""

from __future__ import annotations

from wattwitness.model.inspection import Inspection, RecordingInspection, Stretch
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Severity
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean
from wattwitness.words.numbers import clock_time, long_duration, number, quantity, typeset, utc_time
from wattwitness.words.parts import CHANNELS

MOST_STRETCHES = 8
LONGEST_MESSAGE = 400
DECIMALS = {ChannelName.POWER: 0, ChannelName.CADENCE: 0, ChannelName.HEART_RATE: 0}


def inspection_sections(inspection: Inspection) -> tuple[Section, ...]:
    """One section on the file, one on each recording in it."""
    name = clean(inspection.file_name) or "a file without a name"
    several = len(inspection.recordings) > 1
    head = (
        f"{inspection.format_title}, {number(inspection.size_bytes, 0)} bytes, "
        f"{counted(len(inspection.recordings), 'recording')}."
    )
    file = Section(
        name="file",
        title=name,
        blocks=(Paragraph(text=head), Paragraph(text=f"SHA-256 {inspection.sha256}", tone=Tone.NOTE)),
    )
    return (file, *(_recording(item, several=several) for item in inspection.recordings))


def _recording(item: RecordingInspection, *, several: bool) -> Section:
    label = clean(item.source.part_label)
    title = f"Recording {item.source.part}" + (f": {label}" if label else "") if several else "What it holds"
    blocks: list[Paragraph | Table] = [Paragraph(text=_times(item))]
    meter = _meter(item.meter)
    if meter:
        blocks.append(Paragraph(text=f"The file says it was written by {meter}."))
    power = next((channel for channel in item.channels if channel.name is ChannelName.POWER), None)
    if power is None:
        text = "It holds no power: it can serve to match a clock, and nothing can be said of its watts."
        blocks.append(Paragraph(text=text, tone=Tone.WARNING))
    blocks.append(_channels(item))
    blocks += _stretches("Gaps: stretches without a sample that no pause explains", item.gaps)
    blocks += _stretches("Pauses: the recorder was stopped", item.pauses)
    blocks += [_notice(notice) for notice in _ordered(item.notices)]
    if not item.notices:
        blocks.append(Paragraph(text="Nothing was found wrong with it."))
    return Section(name=f"recording_{item.source.part}", title=title, blocks=tuple(blocks))


def _times(item: RecordingInspection) -> str:
    start = f"From {utc_time(item.first_sample_utc)}" if item.first_sample_utc else "Undated, from its own zero"
    if item.event_driven:
        spacing = "a sample whenever something changed"
    elif item.samples > 1:
        spacing = f"a sample every {quantity(item.step_s, 's', 2 if item.step_s % 1 else 0)}"
    else:
        spacing = "one sample only"
    return f"{start}, over {long_duration(item.duration_s)}: {counted(item.samples, 'sample')}, {spacing}."


def _meter(meter: MeterRecord) -> str:
    known = [clean(text) for text in (meter.maker, meter.product) if text]
    if meter.firmware:
        known.append(f"firmware {clean(meter.firmware)}")
    if meter.serial:
        known.append(f"serial number {clean(meter.serial)}")
    return ", ".join(known)


def _channels(item: RecordingInspection) -> Table:
    rows = []
    for channel in item.channels:
        words, unit = CHANNELS[channel.name]
        decimals = DECIMALS.get(channel.name, 1)
        rows.append(
            (
                words,
                unit,
                number(channel.samples, 0),
                number(item.samples - channel.samples, 0),
                number(channel.minimum, decimals),
                number(channel.mean, 1),
                number(channel.maximum, decimals),
            )
        )
    return Table(
        caption="Channels",
        columns=(
            Column(heading="channel", numeric=False),
            Column(heading="unit", numeric=False),
            Column(heading="samples"),
            Column(heading="missing"),
            Column(heading="least"),
            Column(heading="mean"),
            Column(heading="greatest"),
        ),
        rows=tuple(rows),
    )


def _stretches(caption: str, stretches: tuple[Stretch, ...]) -> list[Paragraph | Table]:
    if not stretches:
        return []
    longest = sorted(stretches, key=lambda stretch: -stretch.length_s)[:MOST_STRETCHES]
    shown = sorted(longest, key=lambda stretch: stretch.at_s)
    more = len(stretches) - len(shown)
    table = Table(
        caption=caption if not more else f"{caption}; the {len(shown)} longest of {len(stretches)}",
        columns=(Column(heading="at", unit="h:mm:ss"), Column(heading="length", unit="s")),
        rows=tuple((clock_time(stretch.at_s), number(stretch.length_s, 1)) for stretch in shown),
    )
    return [table]


def _ordered(notices: tuple[Notice, ...]) -> list[Notice]:
    return sorted(notices, key=lambda notice: notice.severity is not Severity.WARNING)


def _notice(notice: Notice) -> Paragraph:
    message = typeset(clean(notice.message, longest=LONGEST_MESSAGE))
    if notice.samples and str(notice.samples) not in message.replace(",", ""):
        message = f"{message} ({counted(notice.samples, 'sample')})"
    return Paragraph(text=message, tone=Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE)
