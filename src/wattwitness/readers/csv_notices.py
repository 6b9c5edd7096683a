"""What is said of a table that was not as it should be: text mended, rows left out, cells that were no numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.model.arrays import BoolArray
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.csv_body import Body
from wattwitness.readers.csv_columns import Heading, shown
from wattwitness.readers.csv_text import TextDamage
from wattwitness.readers.words import count_of, listed


def text_notices(encoding: str, damage: TextDamage) -> list[Notice]:
    """Notices on the text itself."""
    notices = []
    if encoding in ("cp1252", "latin-1"):
        message = "The text is not Unicode; it was read as Western European."
        notices.append(Notice(slug="text_encoding_assumed", message=message, severity=Severity.NOTE))
    if damage.nul_bytes:
        message = f"{count_of(damage.nul_bytes, 'NUL byte')} in the text left out."
        notices.append(Notice(slug="nul_bytes", message=message, samples=damage.nul_bytes))
    if damage.undecodable:
        message = f"{count_of(damage.undecodable, 'character')} could not be decoded."
        notices.append(Notice(slug="undecodable_text", message=message, samples=damage.undecodable))
    if damage.overlong_lines:
        message = f"{count_of(damage.overlong_lines, 'line')} far too long for a row of a table left out."
        notices.append(Notice(slug="overlong_lines", message=message, samples=damage.overlong_lines))
    return notices


def body_notices(body: Body, samples: BoolArray, no_time: int, left_out: int) -> list[Notice]:
    """Notices on rows: ``no_time`` rows had no time, ``left_out`` rows with a time belong to another table or a sum.

    ``samples``, shape (rows,), says which rows were kept.
    """
    counted = (
        (
            "repeated_header",
            body.repeated_headers,
            "repeated row of headings",
            "repeated rows of headings",
            Severity.NOTE,
        ),
        ("comment_lines", body.comments, "comment line", "comment lines", Severity.NOTE),
        (
            "rows_too_wide",
            body.too_wide,
            "row with more cells than headings",
            "rows with more cells than headings",
            None,
        ),
        (
            "rows_without_time",
            no_time + body.text_rows,
            "row that is no sample (a label, a sum, a marker, or without a time)",
            "rows that are no samples (labels, sums, markers, or without a time)",
            None,
        ),
        ("summary_rows", left_out, "row of a sum or of another table", "rows of sums or of another table", None),
    )
    return [
        Notice(
            slug=slug,
            message=f"{count_of(number, one, many)} left out.",
            severity=severity or Severity.WARNING,
            samples=number,
        )
        for slug, number, one, many, severity in counted
        if number
    ] + _short_rows(int(np.count_nonzero(samples[sorted(body.short)])))


def cut_notices(body: Body, damage: TextDamage) -> list[Notice]:
    """A notice where the file breaks off in the middle of a row: the last number may have lost digits."""
    if not (damage.ends_open and body.rows - 1 in body.short):
        return []
    message = "The file breaks off in the middle of its last row, which was left out."
    return [Notice(slug="file_cut_short", message=message, samples=1)]


def _short_rows(cut: int) -> list[Notice]:
    if not cut:
        return []
    message = f"{count_of(cut, 'row')} with fewer cells than headings; the missing cells were taken as missing values."
    return [Notice(slug="rows_cut_short", message=message, severity=Severity.NOTE, samples=cut)]


def cell_notices(unreadable: Sequence[tuple[Heading, int, str]]) -> list[Notice]:
    """One notice for each column with cells that are neither numbers nor empty: how many, and the first of them."""
    return [
        Notice(
            slug="cells_unreadable",
            message=(
                f"{count_of(number, 'cell')} under {heading.label} {'is' if number == 1 else 'are'} no number "
                f"(such as “{shown(example)}”); taken as missing."
            ),
            samples=number,
        )
        for heading, number, example in unreadable
        if number
    ]


def time_notices(others: Sequence[Heading], used: Sequence[Heading]) -> list[Notice]:
    """Which of several time columns was used."""
    if not others:
        return []
    message = (
        f"The times come from {listed([heading.label for heading in used])}; "
        f"{listed([heading.label for heading in others])} {'was' if len(others) == 1 else 'were'} not used."
    )
    return [Notice(slug="other_times_not_used", message=message, severity=Severity.NOTE)]
