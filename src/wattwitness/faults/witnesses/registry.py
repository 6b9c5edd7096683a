"""Every witness that one pair of recordings can call. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.faults.witnesses import reference
from wattwitness.faults.witnesses.ground import Ground, Stretch
from wattwitness.model.episodes import Witness
from wattwitness.model.registry import Registry


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessSpec:
    """A witness under its name; ``hear`` gives none where its channel was not recorded. ``most_log_odds`` is what its
    word can count for at most, since every model of a witness is wrong somewhere.
    """

    name: str
    hear: Callable[[Ground, Stretch], Witness | None]
    most_log_odds: float


WITNESSES: Registry[WitnessSpec] = Registry(
    "witness",
    [WitnessSpec(name=reference.NAME, hear=reference.hear, most_log_odds=7.0)],
)
