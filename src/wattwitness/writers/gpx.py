"""GPX: one track, a segment for each stretch between pauses, measurements in the usual extensions.

GPX is a format of places: every point must have a latitude and a longitude. A stationary bike has none worth telling,
and a real one would give away where the rider lives, so every point stands at 0° N 0° E.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.saving import save
from wattwitness.writers.stamps import dated_times, held_channels, iso_stamps, stretches, whole_numbers
from wattwitness.writers.writer import Writer
from wattwitness.writers.xml_text import attribute, element_text

_NAMESPACES = (
    'xmlns="http://www.topografix.com/GPX/1/1" xmlns:tpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v2"'
)
"""The namespaces are identifiers that the format itself requires."""


def write_gpx(recording: Recording, path: Path, *, overwrite: bool = False, start_utc_s: float | None = None) -> None:
    """Write a recording as GPX. Raises what ``Write`` names."""
    held_channels(recording, WRITER.channels, WRITER.title)
    time_s, _ = dated_times(recording, start_utc_s, WRITER.title)
    points = _points(recording, iso_stamps(time_s))
    segments = "".join(
        "<trkseg>\n" + "".join(points[rows]) + "</trkseg>\n" for rows in stretches(recording.time_s, recording.pauses)
    )
    name = recording.meter.product or recording.label
    title = f"<name>{element_text(name)}</name>\n" if name else ""
    content = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<gpx version="1.1" creator={attribute(name or "wattwitness")} {_NAMESPACES}>\n'
        f"<trk>{title}{segments}</trk>\n</gpx>\n"
    )
    save(content.encode(), path, overwrite=overwrite)


def _points(recording: Recording, stamps: list[str]) -> list[str]:
    """One track point a sample."""
    missing = np.full(recording.time_s.size, np.nan)
    channels = recording.channels
    power = whole_numbers(channels.get(ChannelName.POWER, missing), 65_535)
    cadence = whole_numbers(channels.get(ChannelName.CADENCE, missing), 254)
    heart = whole_numbers(channels.get(ChannelName.HEART_RATE, missing), 254)
    warmth = channels.get(ChannelName.TEMPERATURE, missing).tolist()
    speed = channels.get(ChannelName.SPEED, missing).tolist()
    points = []
    for stamp, watts, rpm, bpm, celsius, mps in zip(stamps, power, cadence, heart, warmth, speed, strict=True):
        inner = "" if celsius != celsius else f"<tpx:atemp>{celsius:g}</tpx:atemp>"
        if bpm is not None:
            inner += f"<tpx:hr>{bpm}</tpx:hr>"
        if rpm is not None:
            inner += f"<tpx:cad>{rpm}</tpx:cad>"
        if mps == mps:
            inner += f"<tpx:speed>{mps:.3f}</tpx:speed>"
        outer = "" if watts is None else f"<power>{watts}</power>"
        if inner:
            outer += f"<tpx:TrackPointExtension>{inner}</tpx:TrackPointExtension>"
        extensions = f"<extensions>{outer}</extensions>" if outer else ""
        points.append(f'<trkpt lat="0" lon="0"><time>{stamp}</time>{extensions}</trkpt>\n')
    return points


WRITER = Writer(
    name="gpx",
    title="GPX",
    suffix=".gpx",
    channels=frozenset(
        (
            ChannelName.POWER,
            ChannelName.CADENCE,
            ChannelName.HEART_RATE,
            ChannelName.TEMPERATURE,
            ChannelName.SPEED,
        )
    ),
    step_s=0.001,
    needs_date=True,
    write=write_gpx,
)
