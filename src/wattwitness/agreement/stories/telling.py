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
    """A probability in words fit for a sentence: ``23 %``, ``under 0.1 %``, ``over 99 %``."""
    if misfit < 0.001:
        return "under 0.1 %"
    if misfit >= 0.995:
        return "over 99 %"
    return f"{100 * misfit:.1f} %" if misfit < 0.0995 else f"{100 * misfit:.0f} %"


def at_end(evidence: Evidence) -> str:
    """Words that put gain and zero at the ride's end where the bias changes along it; else none."""
    return "At the end of the ride, for the bias changes along it: " if evidence.changes else ""


def in_sentence(evidence: Evidence, text: str) -> str:
    """``text``, a sentence, after the words that put it at the ride's end."""
    start = at_end(evidence)
    return f"{start}{text[:1].lower()}{text[1:]}" if start else text


def zero_left_over(evidence: Evidence) -> str:
    """What a story of a gain leaves unexplained; begins with a space, empty where no zero is shown."""
    if not evidence.zero_shown:
        return ""
    return f" It leaves the zero of {newton_metres(evidence.zero_nm)} unexplained, which takes a cause of its own."


def too_weakly_parted(evidence: Evidence) -> str:
    """Why a zero and a gain both remain, without denying a gain or a zero that the anatomy tells at its own level."""
    told = [
        name
        for name, estimate in (("gain", evidence.anatomy.gain_pct), ("zero", evidence.anatomy.zero_nm))
        if estimate.low is not None and estimate.high is not None and not estimate.low <= 0 <= estimate.high
    ]
    if not told:
        return "the ride does not vary the torque enough to tell it from a {other}."
    level = f"{100 * evidence.anatomy.gain_pct.level:.0f}"
    return (
        f"the {' and the '.join(told)} told under zero and gain at {level} % is not sure enough here, where 99 % is "
        "asked for before a {other} is left aside."
    )


def gain_words(evidence: Evidence) -> str:
    """What the ride shows of gain and zero."""
    end = " at the end of the ride" if evidence.changes else ""
    return f"a gain of {percent(evidence.gain, 2)} and a zero of {newton_metres(evidence.zero_nm)}{end}"


def _signed(value: float, decimals: int, unit: str) -> str:
    text = f"{abs(value):.{decimals}f}"
    sign = "" if not text.strip("0.") else "\u2212" if value < 0 else "+"
    return f"{sign}{text} {unit}"
