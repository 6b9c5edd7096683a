"""A worksheet of hanging weights as a text: an empty one to be filled in beside the bike, or one that was typed in."""

from __future__ import annotations

from pathlib import Path

from wattwitness.model.hanging_weights import Worksheet
from wattwitness.writers.saving import save

SERIES = (("forward", 1), ("forward", 2), ("back", 1), ("back", 2))
STEPS = ("zero_before", "up", "up", "up", "down", "down", "down", "zero_after")

MARK_LINE = "# hanging weights"
KEYS = (
    "meter",
    "date",
    "latitude_deg",
    "height_m",
    "gravity_m_s2",
    "mass_uncertainty_pct",
    "lever_uncertainty_mm",
    "angle_uncertainty_deg",
    "resolution_nm",
    "temperature_c",
)
CELLS = ("side", "position", "repeat", "step", "mass_kg", "lever_mm", "angle_deg", "reading_nm")

HEAD = """# hanging weights
# meter:
# date:
# latitude_deg:
# height_m:
# gravity_m_s2:
# mass_uncertainty_pct:
# lever_uncertainty_mm:
# angle_uncertainty_deg:
# resolution_nm:
# temperature_c:
#
# Caution. A weight that falls or a crank that swings round breaks feet and hands. Block the wheel or brake so that the
# cranks cannot turn, keep feet and hands from under the weight, hang it low over something soft, from a strap or
# carrier made for it. Hang no more than the maker of the meter, cranks and bike allows. Do not open the bike. The
# maker's instructions, local rules and a qualified person come before this sheet.
#
# Leave out what you do not know; what is then assumed is said. Give gravity, or latitude and height.
# The lever is from the crank's axis to where the weight pulls; the angle is that of the crank from horizontal.
# Fill in mass, lever, angle and reading of each row. Rows without a reading are passed over; add as many as you like.
"""


def blank_worksheet_text() -> str:
    """An empty worksheet: every key, every heading, both sides in four positions, loading and unloading."""
    rows = [
        f"{side},{position},{repeat},{step},,,,,"
        for side in ("left", "right")
        for position, repeat in SERIES
        for step in STEPS
    ]
    return HEAD + "side,position,repeat,step,mass_kg,lever_mm,angle_deg,reading_nm,note\n" + "\n".join(rows) + "\n"


def worksheet_text(worksheet: Worksheet) -> str:
    """A worksheet as the reader reads it: what is not known is left empty, readings in their order."""
    lines = [MARK_LINE]
    lines += [f"# {key}: {_known(getattr(worksheet, key))}".rstrip() for key in KEYS]
    lines.append(",".join(CELLS))
    for reading in worksheet.readings:
        unloaded = reading.mass_kg == 0
        cells = [
            "" if unloaded and name in ("mass_kg", "lever_mm", "angle_deg") else _known(getattr(reading, name))
            for name in CELLS
        ]
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


def _known(value: object) -> str:
    """A value as it is written; commas would part cells, and a first sign of a formula is no part of a name."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.12g}"
    return " ".join(str(value).replace(",", ";").replace('"', "'").split()).lstrip("=+-@#")


def write_blank_worksheet(path: Path) -> None:
    """Write an empty worksheet. Raises OutputExists, OutputNotWritable."""
    save(blank_worksheet_text().encode("utf-8"), path, overwrite=False)
