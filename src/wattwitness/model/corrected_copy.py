"""The words of a corrected copy: a recording whose power was corrected, which says so, how, and from what original."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.recording import Recording

MARK = "corrected copy 1"
"""What a corrected copy is known by, whatever its format; the number is the version of the words."""

SLUG = "corrected_copy"
"""Of the notice on a recording that was read from one."""

SAYS_NOTHING = "it is a corrected copy: its power is not what the meter showed, so it says nothing of the meter"

COMMENT = "# "
"""Before each remark in a table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AppliedCorrection:
    """What was done: corrected power = (power shown - zero · angular velocity of the crank) / gain.

    ``origin`` says in words where the numbers are from, ``holds`` under which condition (empty: none).
    """

    gain: float
    zero_nm: float
    origin: str
    holds: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyReport:
    """What a corrected copy holds: ``samples`` with power; of them ``lost`` without cadence, which cannot be corrected
    for a zero and are left out, and ``cut`` that came out below zero and were set to it.
    """

    samples: int
    lost: int
    cut: int
    mean_before_w: float
    mean_after_w: float
    original_sha256: str
    applied: AppliedCorrection


def is_corrected(recording: Recording) -> bool:
    """Whether the recording was read from a corrected copy."""
    return any(notice.slug == SLUG for notice in recording.notices)
