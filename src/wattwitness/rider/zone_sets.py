"""Zones as data: shares of threshold power at which one ends and the next begins."""

from __future__ import annotations

from wattwitness.model.registry import Registry
from wattwitness.model.rider import ZoneSet

SEVEN = ZoneSet(
    name="seven_levels",
    upper=(0.55, 0.75, 0.90, 1.05, 1.20, 1.50),
    names=("level 1", "level 2", "level 3", "level 4", "level 5", "level 6", "level 7"),
    source="seven levels of threshold power: Allen H, Coggan A (2010), 2nd ed. (from memory; texts vary in boundaries)",
)
THREE = ZoneSet(
    name="three_zones",
    upper=(0.80, 1.0),
    names=("easy", "moderate", "hard"),
    source="three zones about threshold; common practice, with no source",
)

ZONE_SETS: Registry[ZoneSet] = Registry("zone set", [SEVEN, THREE])
