"""A corrected copy as CSV or FIT, with the correction, its origin and the original's hash inside."""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.corrected_copy import COMMENT, MARK, AppliedCorrection
from wattwitness.model.errors import OutputNotWritable
from wattwitness.model.recording import Recording
from wattwitness.writers.csv_table import CsvTable, write_csv
from wattwitness.writers.fit import write_fit

SUFFIXES = (".csv", ".fit")


def write_corrected(
    recording: Recording, path: Path, applied: AppliedCorrection, *, version: str, overwrite: bool = False
) -> None:
    """Write a recording that has been corrected, in the format that ``path`` ends in.

    Raises OutputNotWritable for another ending, and what the writers of the formats raise.
    """
    remarks = remarks_of(applied, recording.source.sha256, version)
    match path.suffix.lower():
        case ".csv":
            table = CsvTable(preamble=tuple(COMMENT + remark for remark in remarks))
            write_csv(recording, path, overwrite=overwrite, table=table)
        case ".fit":
            write_fit(recording, path, overwrite=overwrite, remarks=remarks)
        case _:
            raise OutputNotWritable(
                "A corrected copy is written as CSV or FIT.", where=str(path), hint="Let the name end in .csv or .fit."
            )


def remarks_of(applied: AppliedCorrection, original_sha256: str, version: str) -> tuple[str, ...]:
    """One line each, without commas, so that no table takes one for a row."""
    whole = (
        f"{MARK}: power and torque are not as the meter showed them",
        f"formula: corrected power = (power shown - {applied.zero_nm!r} N·m * 2 pi * cadence / 60) / {applied.gain!r}",
        f"holds: {applied.holds}" if applied.holds else "",
        f"correction from: {applied.origin}",
        f"original: SHA-256 {original_sha256}",
        f"written by: wattwitness {version}",
    )
    return tuple(_one_line(remark) for remark in whole if remark)


def _one_line(text: str) -> str:
    shown = "".join(character if character.isprintable() else " " for character in text)
    return " ".join(shown.replace(",", " ").replace(";", " ").replace("\t", " ").split())
