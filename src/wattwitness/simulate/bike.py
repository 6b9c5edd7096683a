"""A bike whose rider sets a resistance and holds it: power follows from cadence and resistance.

The brake is an eddy-current disc: torque rises with speed to a corner and falls beyond it,
T ~ (n/n_c) / (1 + (n/n_c)^2) (Smythe 1942 and later authors, from memory). With n_c = 202 rpm at the crank, power goes
as rpm^1.77 between 56 and 95 rpm, as published readings of a studio bike do. Its levels are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.simulate.defaults import trade
from wattwitness.simulate.signals import decay_line

_AT_RPM = 80.0
_LEVEL_W = (20.0, 2.4, 0.03)  # W at 80 rpm: constant, per level, per level squared


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistanceBike:
    """Levels 0 to 100. ``warm_up_pct`` is what the brake's torque has lost once warm, with ``warm_up_tau_min``.

    ``pedal_scatter`` is the share of the rider's own scatter of power that the flywheel leaves at the pedals.
    """

    warm_up_pct: float = field(default_factory=lambda: trade("brake_warm_up_pct"))
    warm_up_tau_min: float = field(default_factory=lambda: trade("brake_warm_up_tau_min"))
    corner_rpm: float = field(default_factory=lambda: trade("brake_corner_rpm"))
    pedal_scatter: float = 0.5

    def level_for(self, power_w: FloatArray, cadence_rpm: FloatArray) -> FloatArray:
        """The whole level a rider sets for a target power at a target cadence, shape of both."""
        constant, linear, square = _LEVEL_W
        at_80 = power_w / np.maximum(self._speed_factor(np.maximum(cadence_rpm, 40.0)), 1e-9)
        root = np.sqrt(linear**2 + 4.0 * square * np.maximum(at_80 - constant, 0.0))
        return np.minimum(np.round((root - linear) / (2.0 * square)), 100.0)

    def table_w(self, cadence_rpm: FloatArray, level: FloatArray) -> FloatArray:
        """Power of the cold brake at a cadence and level, as the maker's table has it."""
        constant, linear, square = _LEVEL_W
        return (constant + linear * level + square * level * level) * self._speed_factor(cadence_rpm)

    def true_w(self, cadence_rpm: FloatArray, level: FloatArray) -> FloatArray:
        """Power that the brake really takes while it warms up over the ride."""
        warm = 1.0 - decay_line(cadence_rpm.size, self.warm_up_tau_min * 60.0)
        return self.table_w(cadence_rpm, level) * (1.0 + self.warm_up_pct / 100.0 * warm)

    def _speed_factor(self, cadence_rpm: FloatArray) -> FloatArray:
        corner = self.corner_rpm
        speed, base = cadence_rpm / corner, _AT_RPM / corner
        return (speed * speed / (1.0 + speed * speed)) / (base * base / (1.0 + base * base))
