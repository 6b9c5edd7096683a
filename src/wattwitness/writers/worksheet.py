"""An empty worksheet of hanging weights, to be filled in beside the bike."""

from __future__ import annotations

from pathlib import Path

from wattwitness.writers.saving import save

SERIES = (("forward", 1), ("forward", 2), ("back", 1), ("back", 2))
STEPS = ("zero_before", "up", "up", "up", "down", "down", "down", "zero_after")

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


def write_blank_worksheet(path: Path) -> None:
    """Write an empty worksheet. Raises OutputExists, OutputNotWritable."""
    save(blank_worksheet_text().encode("utf-8"), path, overwrite=False)
