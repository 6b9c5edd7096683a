"""Rides for the response's truth runs and tests, made apart from the package's simulator and from its kernels.

True power second by second; each meter sees it with its own white noise, smooths it, wanders, is late and rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from wattwitness.model.arrays import FloatArray

Effort = Literal["mixed", "intervals", "group", "ramp", "targets", "steady"]
CHANGING: tuple[Effort, ...] = ("mixed", "intervals", "group", "ramp", "targets")
Smoothing = Literal["prompt", "mean", "exponential"]
BEFORE_S = 120
"""Seconds ridden before the recording begins, so that smoothing has a history."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterSpec:
    """How one meter shows power. Noise is in percent of power a second, before smoothing; wander after it."""

    smoothing: Smoothing = "prompt"
    shape_s: float = 0.0
    delay_s: int = 0
    gain: float = 1.0
    zero_w: float = 0.0
    noise_pct: float = 0.0
    wander_pct: float = 0.0
    wander_tau_s: float = 40.0
    rounded: bool = True


def true_power(generator: np.random.Generator, seconds: int, effort: Effort) -> FloatArray:
    """True power in W of ``seconds``, shape (seconds,), with the restlessness of a rider on top of the plan."""
    plan = _plan(generator, seconds, effort)
    restless = 1 + 0.03 * _slow(generator, seconds, 4.0) + 0.015 * generator.standard_normal(seconds)
    return np.maximum(plan * restless, 0.0)


def _plan(generator: np.random.Generator, seconds: int, effort: Effort) -> FloatArray:
    second = np.arange(seconds)
    match effort:
        case "mixed":
            return _held(generator, seconds, 20, 240, coasting=True)
        case "intervals":
            half = int(generator.integers(60, 240))
            return np.asarray(np.where((second // half) % 2 == 1, 280.0, 140.0), dtype=np.float64)
        case "group":
            plan: FloatArray = 190 + 45 * _slow(generator, seconds, 25.0) + 20 * _slow(generator, seconds, 6.0)
            return np.maximum(plan, 0.0)
        case "ramp":
            return np.asarray(90 + 25.0 * ((second // 180) % 12), dtype=np.float64)
        case "targets":
            return np.round(_held(generator, seconds, 120, 400, coasting=False) / 30) * 30
        case "steady":
            return np.full(seconds, 200.0)


def _held(generator: np.random.Generator, seconds: int, low_s: int, high_s: int, *, coasting: bool) -> FloatArray:
    """Powers held for a while each, now and then none at all."""
    plan = np.empty(seconds)
    at = 0
    while at < seconds:
        length = int(generator.integers(low_s, high_s))
        plan[at : at + length] = generator.uniform(90, 330)
        if coasting and generator.random() < 0.1:
            plan[at : at + 8] = 0.0
        at += length
    return plan


def _slow(generator: np.random.Generator, seconds: int, tau_s: float) -> FloatArray:
    """A wandering path with standard deviation 1 and correlation time ``tau_s``."""
    keep = np.exp(-1 / tau_s)
    kicks = generator.standard_normal(seconds) * np.sqrt(1 - keep**2)
    path = np.empty(seconds)
    now = generator.standard_normal()
    for index, kick in enumerate(kicks):
        now = keep * now + kick
        path[index] = now
    return path


def shown(generator: np.random.Generator, true_w: FloatArray, meter: MeterSpec) -> FloatArray:
    """What ``meter`` shows of ``true_w``, same shape."""
    seen = true_w * (1 + meter.noise_pct / 100 * generator.standard_normal(true_w.size))
    smooth = _smoothed(seen, meter)
    late = np.concatenate((np.full(meter.delay_s, smooth[0]), smooth[: smooth.size - meter.delay_s]))
    wander = 1 + meter.wander_pct / 100 * _slow(generator, true_w.size, meter.wander_tau_s)
    value = np.maximum(meter.gain * late * wander + meter.zero_w * (late > 0), 0.0)
    return np.asarray(np.round(value) if meter.rounded else value, dtype=np.float64)


def _smoothed(seen: FloatArray, meter: MeterSpec) -> FloatArray:
    if meter.smoothing == "mean":
        whole, rest = int(meter.shape_s), meter.shape_s - int(meter.shape_s)
        weights = np.array([1.0] * whole + [rest] * (rest > 0)) / meter.shape_s
        before = np.full(weights.size - 1, seen[0])
        return np.asarray(np.convolve(np.concatenate((before, seen)), weights, mode="valid"), dtype=np.float64)
    if meter.smoothing == "exponential":
        share = 1 - np.exp(-1 / meter.shape_s)
        answer = np.empty_like(seen)
        now = seen[0]
        for index, value in enumerate(seen):
            now += share * (value - now)
            answer[index] = now
        return answer
    return seen


def ride(
    seed: int, effort: Effort, minutes: float, reference: MeterSpec, unit: MeterSpec
) -> tuple[FloatArray, FloatArray]:
    """What both meters recorded of one ride, one value a second."""
    generator = np.random.default_rng([seed, CHANGING.index(effort) if effort in CHANGING else 9])
    true_w = true_power(generator, round(60 * minutes) + BEFORE_S, effort)
    return (
        shown(generator, true_w, reference)[BEFORE_S:],
        shown(generator, true_w, unit)[BEFORE_S:],
    )
