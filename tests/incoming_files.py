"""Small recordings as a tester drops them: two meters of one ride as tables, and files that are none."""

from __future__ import annotations

import gzip
from datetime import UTC, datetime, timedelta

import numpy as np

RIDE_S = 900
HEADINGS = "time,power (W),cadence (rpm)"


def table(day: int, *, gain: float = 1.0, headings: str = HEADINGS, seconds: int = RIDE_S) -> bytes:
    """A quarter of an hour in steps and short efforts, one row a second, from nine o'clock of a day in March."""
    start = datetime(2026, 3, day, 9, tzinfo=UTC)
    draws = np.random.default_rng(day)
    levels = np.repeat(draws.uniform(90, 320, seconds // 30 + 1), 30)[:seconds]
    power_w = gain * (levels + draws.normal(0, 6, seconds))
    cadence_rpm = np.repeat(draws.integers(70, 100, seconds // 20 + 1), 20)[:seconds]
    lines = [headings]
    for second, watts in enumerate(power_w):
        stamp = (start + timedelta(seconds=second)).isoformat().replace("+00:00", "Z")
        lines.append(f"{stamp},{watts:.0f},{cadence_rpm[second]}")
    return ("\n".join(lines) + "\n").encode()


def pair(day: int) -> dict[str, bytes]:
    """The recordings of one ride by their names; the bike reads 5 % low."""
    return {f"day {day} pedals.csv": table(day), f"day {day} bike.csv": table(day, gain=0.95)}


def unclear_table(day: int, *, gain: float = 1.0) -> bytes:
    """A table of which nobody can tell what the two columns of numbers are."""
    return table(day, gain=gain, headings="time,first,second")


def gzip_bomb() -> bytes:
    """Some hundred kilobytes that unpack to 300 MiB."""
    return gzip.compress(bytes(300 << 20), compresslevel=9, mtime=0)


def xml_bomb() -> bytes:
    """Entities that grow tenfold nine times."""
    entities = ['<!ENTITY a0 "watts">'] + [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10)]
    root = "TrainingCenterDatabase"
    return f'<?xml version="1.0"?><!DOCTYPE {root} [{"".join(entities)}]><{root}>&a9;</{root}>'.encode()
