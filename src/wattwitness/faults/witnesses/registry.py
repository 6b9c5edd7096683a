"""Every witness that one pair of recordings can call. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.faults.witnesses import cadence, heart_rate, reference, resistance, surface
from wattwitness.faults.witnesses.ground import Ground
from wattwitness.faults.witnesses.heard import Listener
from wattwitness.model.registry import Registry


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessSpec:
    """A witness under its name; ``listener`` makes one that hears stretches of one ride."""

    name: str
    listener: Callable[[Ground], Listener]


WITNESSES: Registry[WitnessSpec] = Registry(
    "witness",
    [
        WitnessSpec(name=reference.NAME, listener=reference.listener),
        WitnessSpec(name=cadence.NAME, listener=cadence.listener),
        WitnessSpec(name=resistance.NAME, listener=resistance.listener),
        WitnessSpec(name=surface.NAME, listener=surface.listener),
        WitnessSpec(name=heart_rate.NAME, listener=heart_rate.listener),
    ],
)
