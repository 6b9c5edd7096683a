"""CSV: one plain table, a row a sample, every channel in a column with its unit; empty where there is no sample.

Other tables than our own can be written too (``CsvTable``), so that reading what other programs export can be tried.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.writers.saving import save
from wattwitness.writers.stamps import dated_times, held_channels, iso_stamps
from wattwitness.writers.writer import Writer


class TimeColumn(StrEnum):
    """How time is written; all but ISO and the epochs count from the first sample of a dated recording."""

    ISO_UTC = "iso_utc"
    CLOCK_TIME = "clock_time"
    EPOCH_S = "epoch_s"
    EPOCH_MS = "epoch_ms"
    ELAPSED_S = "elapsed_s"
    ELAPSED_MIN_S = "elapsed_min_s"
    DECIMAL_MINUTES = "decimal_minutes"


_TIME_HEADINGS = {
    TimeColumn.ISO_UTC: "time (UTC)",
    TimeColumn.CLOCK_TIME: "time of day",
    TimeColumn.EPOCH_S: "epoch (s)",
    TimeColumn.EPOCH_MS: "epoch (ms)",
    TimeColumn.ELAPSED_S: "elapsed (s)",
    TimeColumn.ELAPSED_MIN_S: "elapsed (mm:ss)",
    TimeColumn.DECIMAL_MINUTES: "elapsed (min)",
}
_OF_THE_DAY = (TimeColumn.ISO_UTC, TimeColumn.CLOCK_TIME, TimeColumn.EPOCH_S, TimeColumn.EPOCH_MS)

HEADINGS = {
    ChannelName.POWER: "power (W)",
    ChannelName.CADENCE: "cadence (rpm)",
    ChannelName.HEART_RATE: "heart rate (bpm)",
    ChannelName.TORQUE: "torque (N·m)",
    ChannelName.RESISTANCE: "resistance",
    ChannelName.SPEED: "speed (m/s)",
    ChannelName.TEMPERATURE: "temperature (°C)",
    ChannelName.LEFT_SHARE: "left share (%)",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvTable:
    """How the table looks. ``time`` ``None``: ISO in UTC where dated, else elapsed seconds.

    ``preamble`` lines stand above the headings; ``headings`` replaces single headings. Raises ValueError where the
    delimiter is the decimal sign too.
    """

    delimiter: str = ","
    decimal_comma: bool = False
    time: TimeColumn | None = None
    preamble: tuple[str, ...] = ()
    headings: dict[ChannelName, str] = field(default_factory=dict)
    line_end: str = "\n"
    byte_order_mark: bool = False

    def __post_init__(self) -> None:
        """Refuse a table that nobody could read."""
        if self.decimal_comma and self.delimiter == ",":
            raise ValueError("a decimal comma needs another delimiter than the comma")


def write_csv(
    recording: Recording,
    path: Path,
    *,
    overwrite: bool = False,
    start_utc_s: float | None = None,
    table: CsvTable | None = None,
) -> None:
    """Write a recording as CSV. Raises what ``Write`` names; a date is needed only where ``table`` asks for one."""
    form = table or CsvTable()
    channels = held_channels(recording, WRITER.channels, WRITER.title)
    dated = recording.dated or start_utc_s is not None
    kind = form.time or (TimeColumn.ISO_UTC if dated else TimeColumn.ELAPSED_S)
    columns = [_times(recording, kind, start_utc_s)]
    columns += [_cells(values) for values in channels.values()]
    if form.decimal_comma:
        columns = [[cell.replace(".", ",") for cell in column] for column in columns]
    headings = [_TIME_HEADINGS[kind], *(form.headings.get(name, HEADINGS[name]) for name in channels)]
    lines = [*form.preamble, form.delimiter.join(headings)]
    lines += [form.delimiter.join(row) for row in zip(*columns, strict=True)]
    text = ("\ufeff" if form.byte_order_mark else "") + form.line_end.join(lines) + form.line_end
    save(text.encode(), path, overwrite=overwrite)


def _cells(values: FloatArray) -> list[str]:
    """Numbers with up to six decimals and no needless zeros; empty where missing."""
    present = values[np.isfinite(values)]
    if np.all(present == np.floor(present)):
        return ["" if value != value else f"{value:.0f}" for value in values.tolist()]
    return ["" if value != value else f"{value:.6f}".rstrip("0").rstrip(".") for value in values.tolist()]


def _times(recording: Recording, kind: TimeColumn, start_utc_s: float | None) -> list[str]:
    if kind in _OF_THE_DAY:
        utc_s, _ = dated_times(recording, start_utc_s, f"CSV with {_TIME_HEADINGS[kind]}")
        if kind is TimeColumn.EPOCH_MS:
            return [str(round(stamp * 1000.0)) for stamp in utc_s.tolist()]
        if kind is TimeColumn.EPOCH_S:
            return _cells(np.round(utc_s * 1000.0) / 1000.0)
        stamps = iso_stamps(utc_s)
        return [stamp[11:-1] for stamp in stamps] if kind is TimeColumn.CLOCK_TIME else stamps
    elapsed_s = recording.time_s - recording.time_s[0] if recording.dated else recording.time_s
    elapsed_s = np.round(elapsed_s * 1000.0) / 1000.0
    if kind is TimeColumn.ELAPSED_S:
        return _cells(elapsed_s)
    if kind is TimeColumn.DECIMAL_MINUTES:
        return [f"{second / 60.0:.6f}" for second in elapsed_s.tolist()]
    minutes = np.floor(elapsed_s / 60.0).astype(np.int64)
    rest = elapsed_s - 60.0 * minutes
    width, decimals = (6, 3) if np.any(rest != np.floor(rest)) else (2, 0)
    return [
        f"{minute:02d}:{second:0{width}.{decimals}f}"
        for minute, second in zip(minutes.tolist(), rest.tolist(), strict=True)
    ]


WRITER = Writer(
    name="csv",
    title="CSV",
    suffix=".csv",
    channels=frozenset(ChannelName),
    step_s=0.001,
    needs_date=False,
    write=write_csv,
)
