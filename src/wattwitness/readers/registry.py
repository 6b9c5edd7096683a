"""Every format that can be read. A new one is a module with its ``READER`` and one line here."""

from __future__ import annotations

from wattwitness.model.registry import Registry
from wattwitness.readers import csv_table, fit, gpx, ride_copy, spot, tcx
from wattwitness.readers.reader import Reader

READERS: Registry[Reader] = Registry(
    "file format", (fit.READER, tcx.READER, gpx.READER, csv_table.READER, spot.READER, ride_copy.READER)
)
