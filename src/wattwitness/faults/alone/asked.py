"""What the recording's other channels did in a stretch against the minute on either side of it."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.alone.ride import AloneRide
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Finding, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile

AROUND_S, GUARD_S = 60, 5
BLOCK_S = 5
NAME = "the bike"


def asked(ride: AloneRide, first: int, last: int, depth: Estimate | None, level: float) -> tuple[Witness, ...]:
    """Surface (by its ``depth``), cadence and resistance over seconds ``first`` to ``last`` (excluded)."""
    heard = []
    if depth is not None:
        said = "Against what the rest of the ride shows at the same cadence and resistance, power changed by "
        heard.append(_witness(WitnessKind.SURFACE, depth, f"{said}{_signed(depth)}."))
    for kind, values, unit in (
        (WitnessKind.CADENCE, ride.cadence_rpm, "rpm"),
        (WitnessKind.RESISTANCE, ride.resistance, "1"),
    ):
        if values is None:
            continue
        change = _change(values, first, last, unit, level)
        what = "cadence" if kind is WitnessKind.CADENCE else "the logged resistance"
        if change.assessed:
            heard.append(
                _witness(kind, change, f"Against the minute on either side, {what} changed by {_signed(change)}.")
            )
    return tuple(heard)


def _witness(kind: WitnessKind, change: Estimate, says: str) -> Witness:
    nothing = Estimate.missing("foretells_nothing", change.unit, change.level)
    return Witness(
        kind=kind,
        recorded_by=NAME,
        change=change,
        expected_if_unit_right=nothing,
        expected_if_reference_right=nothing,
        log_odds=0.0,
        supports=Finding.UNDETERMINED,
        says=says,
    )


def _change(values: FloatArray, first: int, last: int, unit: str, level: float) -> Estimate:
    """Mean inside less mean around, with an interval from means of short blocks taken as independent."""
    before = values[max(first - GUARD_S - AROUND_S, 0) : max(first - GUARD_S, 0)]
    after = values[last + GUARD_S : last + GUARD_S + AROUND_S]
    inside, around = _blocks(values[first:last]), np.concatenate([_blocks(before), _blocks(after)])
    if inside.size < 2 or around.size < 2:
        return Estimate.missing("too_few_seconds", unit, level)
    value = float(inside.mean() - around.mean())
    half = normal_quantile(level) * float(
        np.hypot(*(part.std(ddof=1) / np.sqrt(part.size) for part in (inside, around)))
    )
    return Estimate(value=value, low=value - half, high=value + half, unit=unit, level=level)


def _blocks(values: FloatArray) -> FloatArray:
    whole = values[: values.size // BLOCK_S * BLOCK_S].reshape(-1, BLOCK_S)
    whole = whole[np.isfinite(whole).all(axis=1)]
    return np.asarray(whole.mean(axis=1))


def _signed(change: Estimate) -> str:
    unit = "" if change.unit == "1" else f" {change.unit}"
    return f"{change.value:+.1f}{unit}" if change.value is not None else "an unknown amount"
