"""Hearts for the truth runs of findings, made apart from the package's own simulator.

None of them is what the witness fits: the gain bends with power, the response has a quick and a slow part and a
sensor's lag behind it, drift saturates, and errors wander on several time scales. Sensors lag by up to 15 s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TestHeart:
    """One heart with one sensor; rates in bpm, times in seconds."""

    rest: float
    per_w: float
    bend_per_100_w: float
    top: float
    tau_up: float
    tau_down: float
    delay: float
    hold: float
    slow_share: float
    slow_tau: float
    drift_per_h: float
    drift_tau: float
    wander: float
    wander_tau: float
    slow_wander: float
    sensor_lag: float
    sensor_noise: float


def drawn_heart(generator: np.random.Generator) -> TestHeart:
    """A heart and a sensor, drawn within what riders and straps or wrists are known for."""
    wrist = generator.random() < 0.4
    return TestHeart(
        rest=generator.uniform(58, 80),
        per_w=generator.uniform(0.24, 0.46),
        bend_per_100_w=generator.uniform(-0.15, 0.05),
        top=generator.uniform(178, 198),
        tau_up=float(np.clip(generator.normal(68.7, 21.5), 30, 120)),
        tau_down=generator.uniform(28, 60),
        delay=generator.uniform(0, 5),
        hold=generator.uniform(0, 18),
        slow_share=generator.uniform(0, 0.25),
        slow_tau=generator.uniform(150, 400),
        drift_per_h=generator.uniform(2, 15),
        drift_tau=generator.uniform(1200, 6000),
        wander=generator.uniform(1.0, 3.0),
        wander_tau=generator.uniform(8, 60),
        slow_wander=generator.uniform(0.0, 2.0),
        sensor_lag=generator.uniform(3, 15) if wrist else generator.uniform(0, 2),
        sensor_noise=generator.uniform(0.5, 2.0) if wrist else 0.3,
    )


def beaten(heart: TestHeart, power_w: FloatArray, generator: np.random.Generator) -> FloatArray:
    """Heart rate (n,) as the sensor shows it, whole bpm, from true power (n,), one a second."""
    drive = heart.per_w * power_w * (1 + heart.bend_per_100_w * (power_w - 150) / 100)
    drive = np.minimum(drive, heart.top - heart.rest)
    quick, slow = drive[0] * 0.5, drive[0] * 0.5
    late_up, late_down = round(heart.delay), round(heart.delay + heart.hold)
    beats = np.empty(power_w.size)
    for second in range(power_w.size):
        up, down = drive[max(second - late_up, 0)], drive[max(second - late_down, 0)]
        if up > quick:
            quick += (up - quick) / heart.tau_up
        elif down < quick:
            quick += (down - quick) / heart.tau_down
        slow += (drive[second] - slow) / heart.slow_tau
        beats[second] = (1 - heart.slow_share) * quick + heart.slow_share * slow
    seconds = np.arange(power_w.size)
    beats += heart.rest + heart.drift_per_h * heart.drift_tau / 3600 * (1 - np.exp(-seconds / heart.drift_tau))
    beats += _wander(generator, power_w.size, heart.wander, heart.wander_tau)
    beats += _wander(generator, power_w.size, heart.slow_wander, 400.0)
    seen, shown = beats[0], np.empty(beats.size)
    for second, beat in enumerate(beats):
        seen += (beat - seen) / (1 + heart.sensor_lag)
        shown[second] = seen
    return np.round(np.minimum(shown, heart.top) + heart.sensor_noise * generator.standard_normal(beats.size))


def _wander(generator: np.random.Generator, size: int, sd: float, tau_s: float) -> FloatArray:
    keep = float(np.exp(-1 / tau_s))
    drive = generator.standard_normal(size) * sd * np.sqrt(1 - keep * keep)
    value, wander = sd * float(generator.standard_normal()), np.empty(size)
    for second in range(size):
        value = keep * value + drive[second]
        wander[second] = value
    return wander
