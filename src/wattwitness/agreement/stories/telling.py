"""How a story is put down, and how its numbers are written."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.model.anatomy import MeterSide, Story, StoryStatus

NOTHING_TO_EXPLAIN = "The meters show no difference, beyond chance, that this could explain."


def told(
    name: str, side: MeterSide, *, allowed: bool, why: str, misfit: float | None = None, detail: str = ""
) -> Story:
    """A story with its verdict; what would tell it apart is added once all are told."""
    status = StoryStatus.ALLOWED if allowed else StoryStatus.EXCLUDED
    return Story(name=name, which_meter=side, status=status, why=why, misfit=misfit, detail=detail)


def percent(share: float, decimals: int = 1) -> str:
    """A share as a signed percentage: ``-1.4 %`` with a true minus."""
    return _signed(100 * share, decimals, "%")


def newton_metres(torque_nm: float) -> str:
    """A signed torque."""
    return _signed(torque_nm, 2, "N·m")


def chance(misfit: float) -> str:
    """A probability in words fit for a sentence: ``23 %``, ``under 0.1 %``."""
    return "under 0.1 %" if misfit < 0.001 else f"{100 * misfit:.2g} %"


def gain_words(evidence: Evidence) -> str:
    """What the ride shows of gain and zero."""
    return f"a gain of {percent(evidence.gain, 2)} and a zero of {newton_metres(evidence.zero_nm)}"


def _signed(value: float, decimals: int, unit: str) -> str:
    text = f"{abs(value):.{decimals}f}"
    sign = "" if not text.strip("0.") else "\u2212" if value < 0 else "+"
    return f"{sign}{text} {unit}"
