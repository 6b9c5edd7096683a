"""Heart rate as a first-order response to power, slower up than down, late, drifting through the ride."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.simulate.defaults import trade
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.signals import LEAD_S, RATE_HZ, decay, wander


@dataclass(frozen=True, slots=True, kw_only=True)
class Heart:
    """A rider's heart: rate at rest and at ``at_250_w``, the rest as on record (see ``defaults``)."""

    rest_bpm: float = 68.0
    at_250_w_bpm: float = 155.0
    top_bpm: float = 192.0
    tau_on_s: float = field(default_factory=lambda: trade("heart_tau_on_s"))
    tau_off_s: float = field(default_factory=lambda: trade("heart_tau_off_s"))
    delay_on_s: float = field(default_factory=lambda: trade("heart_delay_on_s"))
    delay_off_s: float = field(default_factory=lambda: trade("heart_delay_off_s"))
    drift_bpm_per_h: float = field(default_factory=lambda: trade("heart_drift_bpm_per_h"))
    drift_onset_s: float = field(default_factory=lambda: trade("heart_drift_onset_s"))
    scatter_bpm: float = field(default_factory=lambda: trade("heart_scatter_bpm"))


def heart_rate(heart: Heart, power_w: FloatArray, draws: Draws) -> FloatArray:
    """Heart rate in bpm on the time line, from true power (shape (n,), W)."""
    seconds = power_w.size // RATE_HZ
    per_second = power_w[: seconds * RATE_HZ].reshape(seconds, RATE_HZ)
    mean_w = (per_second[:, 0] + per_second[:, 1] + per_second[:, 2] + per_second[:, 3]) / RATE_HZ
    meant = heart.rest_bpm + (heart.at_250_w_bpm - heart.rest_bpm) * mean_w / 250.0
    followed = _follow(heart, np.minimum(meant, heart.top_bpm))
    riding_s = np.arange(seconds) - LEAD_S - heart.drift_onset_s
    followed += heart.drift_bpm_per_h * np.maximum(riding_s, 0.0) / 3600.0
    line = np.repeat(followed, RATE_HZ)
    line = np.concatenate((line, np.full(power_w.size - line.size, line[-1])))
    line += wander(draws, power_w.size, heart.scatter_bpm, 20.0)
    return np.minimum(line, heart.top_bpm)


def _follow(heart: Heart, meant: FloatArray) -> FloatArray:
    """Towards ``meant`` second by second: up with one time constant and delay, down with the other."""
    up, down = 1.0 - decay(heart.tau_on_s, 1.0), 1.0 - decay(heart.tau_off_s, 1.0)
    late_up = _late(meant, heart.delay_on_s).tolist()
    late_down = np.maximum(_late(meant, heart.delay_off_s), _late(meant, heart.delay_on_s)).tolist()
    now = heart.rest_bpm + 0.5 * (meant[0] - heart.rest_bpm)
    followed = []
    for rising, falling in zip(late_up, late_down, strict=True):
        if rising > now:
            now += up * (rising - now)
        elif falling < now:
            now += down * (falling - now)
        followed.append(now)
    return np.array(followed)


def _late(values: FloatArray, delay_s: float) -> FloatArray:
    shift = round(delay_s)
    return values if shift == 0 else np.concatenate((np.full(shift, values[0]), values[:-shift]))
