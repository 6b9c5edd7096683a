"""Say what a file holds and what is wrong with it; propose how a table's columns could be read."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from wattwitness.model.errors import MappingInvalid, OutputExists, OutputNotWritable
from wattwitness.model.inspection import ChannelInspection, Inspection, RecordingInspection, Stretch
from wattwitness.model.recording import ChannelName, Recording


def inspect_file(argument: str | Path, *, mapping: Path | None = None, serial_numbers: bool = False) -> Inspection:
    """Inspect a file, or one part of it (``FILE#2``).

    Serial numbers identify a device and its owner: they are left out unless asked for. Raises a WattwitnessError where
    the file cannot be read, PartUnknown where it holds no such part.
    """
    from wattwitness.readers.open import read_one, read_recordings, split_part
    from wattwitness.readers.registry import READERS

    path, part = split_part(str(argument))
    recordings = read_recordings(path, mapping=mapping) if part is None else (read_one(argument, mapping=mapping),)
    source = recordings[0].source
    return Inspection(
        file_name=source.file_name,
        size_bytes=source.size_bytes,
        sha256=source.sha256,
        format_name=source.format_name,
        format_title=READERS.get(source.format_name).title,
        recordings=tuple(inspect_recording(recording, serial_numbers=serial_numbers) for recording in recordings),
    )


def inspect_recording(recording: Recording, *, serial_numbers: bool = False) -> RecordingInspection:
    """What one recording holds: channels, spacing, gaps, pauses and notices."""
    from wattwitness.readers.spacing import find_gaps

    first_s = float(recording.time_s[0])
    gaps = (
        ()
        if recording.spot
        else find_gaps(recording.time_s, event_driven=recording.event_driven, pauses=recording.pauses)
    )
    return RecordingInspection(
        source=recording.source,
        meter=recording.meter if serial_numbers else replace(recording.meter, serial=""),
        first_sample_utc=_iso(first_s) if recording.dated else "",
        duration_s=recording.duration_s,
        samples=int(recording.time_s.size),
        step_s=recording.step_s,
        event_driven=recording.event_driven,
        channels=tuple(_channel(recording, name) for name in ChannelName if recording.has(name)),
        gaps=tuple(Stretch(at_s=gap.start_s - first_s, length_s=gap.length_s) for gap in gaps),
        pauses=tuple(
            Stretch(at_s=pause.start_s - first_s, length_s=pause.end_s - pause.start_s) for pause in recording.pauses
        ),
        notices=recording.notices,
        spot=recording.spot,
    )


def save_proposed_mapping(path: Path, target: Path) -> None:
    """Write the mapping that a table's reader proposes to ``target``, for the tester to check and edit.

    Raises a WattwitnessError where the file cannot be read, MappingInvalid where its format has no columns to map,
    OutputExists where ``target`` is there already, OutputNotWritable where it cannot be written.
    """
    from wattwitness.readers.open import open_file

    opened, reader, _notices = open_file(path)
    if reader.propose_mapping is None:
        raise MappingInvalid(
            f"A {reader.title} says itself what its values are; it needs no column mapping.",
            where=path.name,
            hint="Read the file without one.",
        )
    text = reader.propose_mapping(opened)
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError as error:
        raise OutputExists(
            "There is a file of that name already; it was left as it is.",
            where=str(target),
            hint="Choose another name for the mapping, or move the old one away.",
        ) from error
    except (OSError, ValueError) as error:
        raise OutputNotWritable(
            f"The mapping cannot be written: {getattr(error, 'strerror', None) or error}.",
            where=str(target),
            hint="Choose a folder that exists and that you may write to.",
        ) from error


def _channel(recording: Recording, name: ChannelName) -> ChannelInspection:
    values = recording.channels[name]
    present = values[np.isfinite(values)]
    return ChannelInspection(
        name=name,
        samples=int(present.size),
        minimum=float(present.min()),
        mean=float(present.mean()),
        maximum=float(present.max()),
    )


def _iso(unix_s: float) -> str:
    return datetime.fromtimestamp(unix_s, tz=UTC).isoformat(timespec="milliseconds")
