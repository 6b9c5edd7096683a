"""Every format that can be written. A new one is a module with its ``WRITER`` and one line here."""

from __future__ import annotations

from wattwitness.model.registry import Registry
from wattwitness.writers import csv_table, fit, gpx, tcx
from wattwitness.writers.writer import Writer

WRITERS: Registry[Writer] = Registry("file format", (fit.WRITER, tcx.WRITER, gpx.WRITER, csv_table.WRITER))
