"""Published limits that may be offered, as data, each with its source and how it is known.

Those known at second hand are to be checked against the standard itself before they decide anything. A standard's
edition is part of its name; an old edition stays beside a new one.
"""

from __future__ import annotations

from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.registry import Registry

DEFAULT_SPREAD_PCT = 2.0
"""Standard deviation between rides up to which a bike counts as the same every day, where no claim says otherwise:
twice that found between sessions of good ergometers (1.0 %, 0.5 to 1.5). Common practice, with no source."""

DEFAULT_FAULTS_PER_H = 0.5
"""Fewer than one fault in two hours: what six hours without a fault can show."""

PUBLISHED: Registry[Claim] = Registry(
    "claim",
    [
        Claim(
            name="medical_ergometer_5_pct",
            source="medical ergometers, 5 % of power (metrology institute's news, 2000); check the standard itself",
            status=ClaimStatus.SECONDARY,
            limit_pct=5.0,
        ),
        Claim(
            name="din_32932_class_a",
            source="DIN 32932 class A: 5 W up to 50 W, 10 % above (second-hand); check the standard itself",
            status=ClaimStatus.SECONDARY,
            limit_pct=10.0,
            limit_w=5.0,
        ),
        Claim(
            name="en_957_5_class_a",
            source="EN 957-1 and -5 class A: 10 % above 50 W (second-hand); check the standard itself",
            status=ClaimStatus.SECONDARY,
            limit_pct=10.0,
            from_w=50.0,
        ),
    ],
)
