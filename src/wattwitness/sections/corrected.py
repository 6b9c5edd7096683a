"""What a corrected copy is, in sentences."""

from __future__ import annotations

from wattwitness.model.corrected_copy import CopyReport
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean
from wattwitness.words.numbers import quantity, typeset


def corrected_lines(report: CopyReport, name: str) -> tuple[str, ...]:
    """One sentence or two a line."""
    applied = report.applied
    zero = f"zero {quantity(applied.zero_nm, 'N·m', 3, signed=True)}"
    means = [quantity(value, "W") for value in (report.mean_before_w, report.mean_after_w)]
    many = counted(report.samples - report.lost, "sample")
    origin = typeset(clean(applied.origin, longest=300))
    lines = [
        f"The corrected copy is {clean(name)}: gain {applied.gain:.4f}, {zero}, from {origin}.",
        f"Mean power: {means[0]} as shown, {means[1]} corrected, over {many}.",
    ]
    if applied.holds:
        lines.append(f"It holds {applied.holds}.")
    if report.lost:
        lines.append(f"{counted(report.lost, 'sample')} without cadence could not be corrected and have no power.")
    if report.cut:
        lines.append(f"{counted(report.cut, 'sample')} came out below zero and are zero in the copy.")
    lines.append(f"The original is as it was: SHA-256 {report.original_sha256}.")
    return tuple(lines)
