"""TCX: one activity of one lap, a track for each stretch between pauses, power and speed in the usual extension.

TCX has no place for torque, resistance, temperature and the left share; they are left out.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.saving import save
from wattwitness.writers.stamps import dated_times, held_channels, iso_stamps, stretches, whole_numbers
from wattwitness.writers.writer import Writer
from wattwitness.writers.xml_text import element_text

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2"'
    ' xmlns:ext="http://www.garmin.com/xmlschemas/ActivityExtension/v2"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">\n'
)
"""The namespaces are identifiers that the format itself requires."""


def write_tcx(recording: Recording, path: Path, *, overwrite: bool = False, start_utc_s: float | None = None) -> None:
    """Write a recording as TCX. Raises what ``Write`` names."""
    held_channels(recording, WRITER.channels, WRITER.title)
    time_s, _ = dated_times(recording, start_utc_s, WRITER.title)
    stamps = iso_stamps(time_s)
    points = _points(recording, stamps)
    tracks = "".join(
        "<Track>\n" + "".join(points[rows]) + "</Track>\n" for rows in stretches(recording.time_s, recording.pauses)
    )
    content = (
        f'{_HEAD}<Activities><Activity Sport="Biking">\n<Id>{stamps[0]}</Id>\n<Lap StartTime="{stamps[0]}">\n'
        f"<TotalTimeSeconds>{recording.duration_s:.3f}</TotalTimeSeconds><DistanceMeters>0</DistanceMeters>"
        "<Calories>0</Calories><Intensity>Active</Intensity><TriggerMethod>Manual</TriggerMethod>\n"
        f"{tracks}</Lap>\n{_creator(recording)}</Activity></Activities>\n</TrainingCenterDatabase>\n"
    )
    save(content.encode(), path, overwrite=overwrite)


def _points(recording: Recording, stamps: list[str]) -> list[str]:
    """One track point a sample."""
    missing = np.full(recording.time_s.size, np.nan)
    channels = recording.channels
    power = whole_numbers(channels.get(ChannelName.POWER, missing), 65_535)
    cadence = whole_numbers(channels.get(ChannelName.CADENCE, missing), 254)
    heart = whole_numbers(channels.get(ChannelName.HEART_RATE, missing), 254)
    speed = channels.get(ChannelName.SPEED, missing).tolist()
    points = []
    for stamp, watts, rpm, bpm, mps in zip(stamps, power, cadence, heart, speed, strict=True):
        point = f"<Trackpoint><Time>{stamp}</Time>"
        if bpm is not None:
            point += f"<HeartRateBpm><Value>{bpm}</Value></HeartRateBpm>"
        if rpm is not None:
            point += f"<Cadence>{rpm}</Cadence>"
        extension = "" if mps != mps else f"<ext:Speed>{mps:.3f}</ext:Speed>"
        if watts is not None:
            extension += f"<ext:Watts>{watts}</ext:Watts>"
        if extension:
            point += f"<Extensions><ext:TPX>{extension}</ext:TPX></Extensions>"
        points.append(point + "</Trackpoint>\n")
    return points


def _creator(recording: Recording) -> str:
    name = recording.meter.product or recording.label
    if not name:
        return ""
    numbers = re.fullmatch(r"(\d{1,4})\.(\d{1,4})", recording.meter.firmware)
    major, minor = (int(number) for number in numbers.groups()) if numbers else (0, 0)
    version = f"<Version><VersionMajor>{major}</VersionMajor><VersionMinor>{minor}</VersionMinor></Version>"
    return (
        f'<Creator xsi:type="Device_t"><Name>{element_text(name)}</Name><UnitId>0</UnitId><ProductID>0</ProductID>'
        f"{version}</Creator>\n"
    )


WRITER = Writer(
    name="tcx",
    title="TCX",
    suffix=".tcx",
    channels=frozenset((ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE, ChannelName.SPEED)),
    step_s=0.001,
    needs_date=True,
    write=write_tcx,
)
