"""One recording with no second meter: what it shows of itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from wattwitness import __version__
from wattwitness.faults.alone.find import AloneFound, find_alone
from wattwitness.faults.alone.ride import AloneRide, ride_of
from wattwitness.model.alone import AloneReport, Yardstick
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.settings import AloneSettings
from wattwitness.workflows.outputs import path_of, refuse_overwriting
from wattwitness.workflows.summary import summarise

ASKED = (ChannelName.CADENCE, ChannelName.RESISTANCE, ChannelName.HEART_RATE)


def alone_file(argument: str | Path, settings: AloneSettings, *, mapping: Path | None = None) -> AloneReport:
    """Judge one recording, or one part of a file (``FILE#2``), by itself. Raises a WattwitnessError."""
    from wattwitness.readers.open import read_one

    return alone_recording(read_one(argument, mapping=mapping), settings)


def alone_recording(recording: Recording, settings: AloneSettings) -> AloneReport:
    """The same of a recording as read."""
    ride = ride_of(recording)
    found = find_alone(ride, settings)
    present = ride.power_w[np.isfinite(ride.power_w)]
    return AloneReport(
        recording=summarise(recording),
        settings=settings,
        version=__version__,
        surface=found.surface,
        episodes=found.episodes,
        series=found.series,
        hours=found.hours,
        mean_w=float(present.mean()) if present.size else None,
        lost_kj=found.lost_kj,
        channels=tuple(name for name in ASKED if recording.has(name)),
        wanting=_wanting(ride, found),
    )


def check_alone_outputs(argument: str, html_path: Path | None, *, replace: bool) -> None:
    """Refuse, before any work, a page that would overwrite the recording or something else. Raises OutputExists."""
    if html_path is None:
        return
    refuse_overwriting(
        html_path, path_of(argument), replace=replace, overwrites="The output would overwrite the recording."
    )


def _wanting(ride: AloneRide, found: AloneFound) -> tuple[str, ...]:
    """What would make the answer firmer, most useful first."""
    wants = []
    if ride.cadence_rpm is None:
        wants.append("log_cadence")
    if ride.resistance is None:
        wants.append("log_resistance")
    if found.surface.yardstick in (Yardstick.NOTHING, Yardstick.PLATEAUS):
        wants.append("hold_resistance_and_cadence")
    if ride.heart_bpm is None:
        wants.append("wear_heart_rate")
    return (*wants, "repeat_the_ride", "borrow_a_meter")
