"""Whether a text file is a table of samples: tight, so that prose, code, markup and binary files are none."""

from __future__ import annotations

import io

from wattwitness.readers.copy_mark import is_copy_text
from wattwitness.readers.csv_dialect import Split, best_split, is_comment, is_value
from wattwitness.readers.csv_layout import Layout, find_layout
from wattwitness.readers.csv_numbers import MISSING
from wattwitness.readers.csv_text import TextSource, detect_encoding, looks_binary
from wattwitness.readers.reader import FileHead
from wattwitness.readers.spot_mark import is_spot_text

SNIFF_LINES = 400


def sniff_table(head: FileHead) -> bool:
    """Say whether the first bytes are those of a table with headings, or of a plain matrix of numbers."""
    encoding = detect_encoding(head.first_bytes)
    text = head.first_bytes.decode(encoding, errors="replace").replace("\0", "").lstrip("\ufeff")
    if looks_binary(text) or text.lstrip()[:1] in ("<", "{") or is_spot_text(text) or is_copy_text(text):
        return False
    lines = list(TextSource(io.BytesIO(head.first_bytes), encoding).lines())
    if not head.complete and len(lines) > 1:
        lines.pop()
    for sample in (lines[:SNIFF_LINES], lines):
        split = best_split(sample)
        if split is None:
            continue
        layout = find_layout(split)
        if _is_matrix(split) if layout is None else _is_table(split, layout):
            return True
    return False


def _is_table(split: Split, layout: Layout) -> bool:
    usable, known = layout.named()
    rows = [
        data
        for row, data in zip(split.rows[layout.first_line - 1 :], split.data[layout.first_line - 1 :], strict=True)
        if any(cell.strip() for cell in row) and not is_comment(row)
    ]
    share = sum(rows) / len(rows)
    if usable:
        return share >= 0.5
    if split.delimiter == " ":
        return False
    return share >= 0.8 and sum(rows) >= (2 if known else 3)


def _is_matrix(split: Split) -> bool:
    """Rows of nothing but numbers and times, three or more, all of one width."""
    rows = [row for row in split.rows if any(cell.strip() for cell in row) and not is_comment(row)]
    whole = [row for row in rows if all(is_value(cell) or cell.strip().lower() in MISSING for cell in row)]
    widths = {len(row) for row in whole}
    return split.delimiter != " " and len(whole) >= 3 and len(whole) >= 0.9 * len(rows) and len(widths) == 1
