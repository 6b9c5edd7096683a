"""Every detector, in the order in which they are asked: what the samples show by themselves first."""

from __future__ import annotations

from wattwitness.faults.detectors import clock_jump, drop, easing, frozen, missing, spike, step, surge, zeros
from wattwitness.faults.view import Detector
from wattwitness.model.registry import Registry

DETECTORS: Registry[Detector] = Registry(
    "detector",
    (
        clock_jump.DETECTOR,
        missing.DETECTOR,
        zeros.DETECTOR,
        frozen.DETECTOR,
        spike.DETECTOR,
        step.DETECTOR,
        drop.DETECTOR,
        surge.DETECTOR,
        easing.DETECTOR,
    ),
)
