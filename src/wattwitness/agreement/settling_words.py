"""What was found of the bias along the ride, in plain sentences."""

from __future__ import annotations

import math
from collections.abc import Mapping

from wattwitness.model.estimate import Estimate
from wattwitness.model.settling import TimeModel


def settling_sentence(model: TimeModel, numbers: Mapping[str, Estimate]) -> str:
    """One or two sentences on the model found, with its numbers and intervals."""
    start, settled, end = (numbers[f"{name}_bias_pct"] for name in ("start", "settled", "end"))
    if model is TimeModel.CONSTANT:
        return "The bias stays the same along the ride as far as this ride can tell."
    if model is TimeModel.CONFOUNDED:
        return (
            "The bias changed along the ride, but the power changed with it in the same way, so whether the unit "
            "warmed up or is off by another amount at another power cannot be told from this ride. Ride easy and hard "
            "both at the beginning and at the end."
        )
    if model is TimeModel.LINEAR:
        return f"The bias drifts steadily, from {_bias(start)} at the start to {_bias(end)} at the end."
    if model is TimeModel.STEP:
        at = numbers["settled_at_min"]
        return (
            f"The bias steps from {_bias(start)} to {_bias(settled)} after {_number(at.value)} min ({_range(at)} min)."
        )
    tau, until = numbers["tau_min"], numbers["settled_at_min"]
    return (
        f"The bias settles: from {_bias(start)} at the start to {_bias(settled)}, with a time constant of "
        f"{_number(tau.value)} min ({_range(tau)} min); 95 % of the change are over after {_number(until.value)} min."
    )


def halves_sentence(change: Estimate) -> str:
    """Whether the second half differs from the first at equal power."""
    if change.value is None or change.low is None or change.high is None:
        return ""
    span = f"{change.low:+.1f} to {change.high:+.1f} percentage points"
    if change.low <= 0 <= change.high:
        return (
            f"At equal power no change from the first half to the second is shown: it lies anywhere in {_true(span)}."
        )
    return _true(
        f"At equal power the second half reads {change.value:+.1f} percentage points against the first ({span})."
    )


def temperature_sentence(slope: Estimate) -> str:
    """What the bias does with the recorded temperature."""
    if slope.value is None or slope.low is None or slope.high is None:
        return ""
    span = f"{slope.low:+.1f} to {slope.high:+.1f}"
    if slope.low <= 0 <= slope.high:
        return _true(
            f"No change of the bias with the recorded temperature is shown ({span} percentage points for 10 °C)."
        )
    return _true(
        f"The bias changes by {slope.value:+.1f} ({span}) percentage points for 10 °C of the recorded temperature, "
        "time left out; a temperature that rises through the ride cannot be told from time."
    )


def _bias(estimate: Estimate) -> str:
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return "an unknown bias"
    return _true(f"{estimate.value:+.1f} % ({estimate.low:+.1f} to {estimate.high:+.1f} %)")


def _range(estimate: Estimate) -> str:
    low, high = estimate.low, estimate.high
    return (
        f"{_number(low)} to {_number(high)}" if high is not None and math.isfinite(high) else f"{_number(low)} or more"
    )


def _number(value: float | None) -> str:
    return "?" if value is None else f"{value:.1f}" if value < 10 else f"{value:.0f}"


def _true(text: str) -> str:
    """True minus signs."""
    return text.replace("-", "\u2212")
