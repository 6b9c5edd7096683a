"""What the bias goes with: cadence at equal torque, power at equal cadence, the way power came, the legs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from wattwitness.agreement.relation import RelationBlocks
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.wandering import fit_wandering, wandering_products

POINTS = "percentage points"
LEAST_CADENCE_SD_RPM = 2.0
LEAST_POWER_SPREAD = 0.05
LEAST_LEFT_SD = 0.3
LEAST_SIDE_BLOCKS = 4
"""Of each way of coming to a power there must be this many blocks."""

MOST_EXPLAINED = 0.9
"""A quantity of which the others explain more than this share of the variance cannot be told from them."""


def cadence_at_equal_torque(blocks: RelationBlocks, extra: Mapping[str, FloatArray], level: float) -> Estimate:
    """Change of bias for 10 rpm, torque held by its reciprocal (a zero) and itself; percentage points."""
    rpm = blocks.omega * 30 / np.pi
    if float(np.std(rpm)) < LEAST_CADENCE_SD_RPM:
        return Estimate.missing("not_varied", POINTS, level)
    torque = blocks.expected_w / blocks.omega
    columns = {"zero": 1 / torque, "torque": torque / 10, "asked": rpm / 10, **extra}
    return _slope(blocks, columns, {"zero": -1 / torque, "torque": torque / 10}, level)


def power_at_equal_cadence(blocks: RelationBlocks, extra: Mapping[str, FloatArray], level: float) -> Estimate:
    """Change of bias for 100 W, cadence held; percentage points."""
    power = blocks.expected_w
    if float(np.std(power)) < LEAST_POWER_SPREAD * float(power.mean()):
        return Estimate.missing("not_varied", POINTS, level)
    columns = {"cadence": blocks.omega, "asked": power / 100, **extra}
    return _slope(blocks, columns, {"asked": power / 100}, level)


def rising_less_falling(
    blocks: RelationBlocks, direction: FloatArray, extra: Mapping[str, FloatArray], level: float
) -> Estimate:
    """Bias after power rose less that after it fell, at equal torque; percentage points.

    ``direction``: one value for each second of the ride, see ``steps_up_down.step_direction``. Not assessed with
    ``no_steps`` where the ride has too little of either. Blocks that were reached neither way do not count.
    """
    mean = blocks.means(direction)
    way = np.where(mean > 0.8, 0.5, np.where(mean < -0.8, -0.5, 0.0))
    if min(int(np.sum(way > 0)), int(np.sum(way < 0))) < LEAST_SIDE_BLOCKS:
        return Estimate.missing("no_steps", POINTS, level)
    reciprocal = blocks.omega / blocks.expected_w
    columns = {"zero": reciprocal, "asked": way, **extra}
    return _slope(blocks, columns, {"zero": -reciprocal}, level, only=way != 0)


def left_share(
    blocks: RelationBlocks, left_share_pct: FloatArray | None, expected_w: FloatArray, level: float
) -> tuple[Estimate, Estimate]:
    """Mean recorded left share in percent, weighted by power, and the change of bias for one percentage point of it.

    Both powers and share are one value a second, NaN where missing; the share is ``None`` where no side was recorded.
    A unit that doubles the left leg changes by +2 for each point, one that doubles the right by -2.
    """
    no_side = Estimate.missing("no_left_share", "%", level), Estimate.missing("no_left_share", POINTS, level)
    if left_share_pct is None:
        return no_side
    share = blocks.means(left_share_pct, np.where(np.isfinite(expected_w), expected_w, 0.0))
    known = np.isfinite(share)
    if known.sum() < blocks.count / 2:
        return no_side
    filled = np.interp(blocks.at_s, blocks.at_s[known], share[known])
    mean = float(np.average(share[known], weights=blocks.expected_w[known]))
    columns = {"share": filled, "one": np.ones(blocks.count)}
    products = wandering_products(blocks.at_s, columns, np.ones(blocks.count), block_s=blocks.block_s)
    _, low, high = fit_wandering(products, "share", ("one",)).interval_of("one", level)
    mean_share = Estimate(value=mean, low=min(low, mean), high=max(high, mean), unit="%", level=level)
    if float(np.std(share[known])) < LEAST_LEFT_SD:
        return mean_share, Estimate.missing("not_varied", POINTS, level)
    return mean_share, _slope(blocks, {"asked": filled - mean}, {}, level, only=known)


def _slope(
    blocks: RelationBlocks,
    columns: Mapping[str, FloatArray],
    reference_noise: Mapping[str, FloatArray],
    level: float,
    only: np.ndarray[tuple[int], np.dtype[np.bool_]] | None = None,
) -> Estimate:
    """The coefficient of the column ``asked`` beside the others and a constant, in percentage points.

    Not assessed with ``collinear`` where the others all but give it.
    """
    names: Sequence[str] = ("one", *columns)
    every = {"error": blocks.error, "one": np.ones(blocks.count), **columns}
    at_s, noise = blocks.at_s, blocks.noise
    if only is not None:
        every = {name: values[only] for name, values in every.items()}
        at_s, noise = at_s[only], noise[only]
    if _explained(every, names) > MOST_EXPLAINED:
        return Estimate.missing("collinear", POINTS, level)
    products = wandering_products(at_s, every, noise, block_s=blocks.block_s)
    used = slice(None) if only is None else only
    pull = {name: float(values[used].sum()) for name, values in reference_noise.items()}
    fit = fit_wandering(products, "error", names, reference_noise=pull)
    value, low, high = (100 * number for number in fit.interval_of("asked", level))
    return Estimate(value=value, low=low, high=high, unit=POINTS, level=level)


def _explained(columns: Mapping[str, FloatArray], names: Sequence[str]) -> float:
    """Share of the variance of ``asked`` that the other columns explain."""
    own = columns["asked"] - columns["asked"].mean()
    others = np.column_stack(
        [columns[name] / (np.abs(columns[name]).max() or 1.0) for name in names if name != "asked"]
    )
    left = own - others @ np.linalg.lstsq(others, own, rcond=None)[0]
    total = float(own @ own)
    return 1 - float(left @ left) / total if total > 0 else 1.0
