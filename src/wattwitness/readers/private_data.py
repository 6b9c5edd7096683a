"""Look through a whole file, beyond what is read for a comparison, for what names a person, a place or a device.

It errs on the side of showing too much: every text and every number that may identify is listed. It cannot promise to
have seen everything, and whoever shows the list says so.
"""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.private_data import PrivateFile
from wattwitness.readers.open import open_file
from wattwitness.readers.private_fit import private_in_fit
from wattwitness.readers.private_table import private_in_table
from wattwitness.readers.private_xml import private_in_xml

SEARCHES = {"fit": private_in_fit, "tcx": private_in_xml, "gpx": private_in_xml}


def private_data(path: Path, *, mapping: Path | None = None) -> PrivateFile:
    """What the file holds, by kind. Raises a WattwitnessError where it cannot be opened."""
    opened, reader, _ = open_file(path, mapping=mapping)
    found = SEARCHES.get(reader.name, private_in_table)(opened.content)
    return PrivateFile(file_name=path.name, items=found)
