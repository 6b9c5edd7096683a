"""What comes of hearing a witness."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.faults.witnesses.ground import Stretch
from wattwitness.model.episodes import Finding, HeartAccounts, Witness

TELLS = 3.0
"""Natural logarithm of 20: from here on a witness speaks for one side."""

SPEAKS = 0.7
"""Under this, odds of 2 to 1, it says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """The witness, and the heart's two accounts where there are any."""

    witness: Witness
    accounts: HeartAccounts | None = None


Listener = Callable[[Stretch], Heard | None]
"""Hears one stretch of the ride it was made for; ``None`` where the channel was not recorded."""


def supported(log_odds: float) -> Finding:
    """The finding that log odds speak for by themselves."""
    if log_odds >= TELLS:
        return Finding.UNIT
    return Finding.REFERENCE if log_odds <= -TELLS else Finding.UNDETERMINED


def capped(log_odds: float, most: float) -> float:
    """``log_odds`` between ``-most`` and ``most``: every model of a witness is wrong somewhere."""
    return min(max(log_odds, -most), most)
