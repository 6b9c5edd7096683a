"""Whether the bias stays, drifts, settles or steps along a ride."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate


class TimeModel(StrEnum):
    """How the bias goes along the ride; ``confounded`` where that cannot be told from how it goes with power."""

    CONSTANT = "constant"
    LINEAR = "linear"
    SETTLING = "settling"
    STEP = "step"
    CONFOUNDED = "confounded"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settling:
    """The bias along the ride, the rider's pacing and a bias that depends on power fitted together with it.

    ``model`` is ``None`` where nothing could be assessed; ``why`` is a plain sentence either way. ``tau_min`` is the
    time constant of settling; ``settled_at_min`` when 95 % of the change are over, minutes after the reference's first
    sample (for a step: when it came). ``start_bias_pct`` is the bias at the first second that both recorded (before a
    step), ``settled_bias_pct`` that which it settles at (after a step; all along where constant; not assessed for a
    bias that drifts on), both at the ride's mean power. ``end_bias_pct`` is the bias at the last common second.
    ``halves_change_pct``: second half less first half at equal power, percentage points, and ``halves_sentence`` in
    words. ``per_10_c_pct``: change of bias for 10 °C of the recorded temperature, time left out.
    ``probabilities``: of each model tried. Arrays (n,): blocks along the ride at ``at_s`` with their bias ``bias_pct``
    and the bias fitted to time, ``fitted_pct`` (NaN where there is none), all at equal power.
    """

    model: TimeModel | None
    why: str
    tau_min: Estimate
    settled_at_min: Estimate
    start_bias_pct: Estimate
    settled_bias_pct: Estimate
    end_bias_pct: Estimate
    halves_change_pct: Estimate
    halves_sentence: str
    per_10_c_pct: Estimate
    temperature_sentence: str
    probabilities: tuple[tuple[TimeModel, float], ...]
    at_s: FloatArray
    bias_pct: FloatArray
    fitted_pct: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("at_s", "bias_pct", "fitted_pct"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
