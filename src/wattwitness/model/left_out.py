"""Stretches of a ride that the tester does not have compared."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutStretch:
    """From ``from_s`` until before ``to_s``, in seconds after the reference's first sample, and why."""

    from_s: float
    to_s: float
    reason: str

    @property
    def start_s(self) -> float:
        """When it begins, as of an episode."""
        return self.from_s

    @property
    def end_s(self) -> float:
        """When it is over, as of an episode."""
        return self.to_s
