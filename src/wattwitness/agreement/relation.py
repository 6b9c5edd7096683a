"""Unit over reference in short blocks along the ride: what the error's anatomy and its settling are read from."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.agreement.common import common_stretch
from wattwitness.agreement.torque import RADIANS_PER_S
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray, frozen_floats
from wattwitness.stats.moving import sample_density

BLOCK_S = 20
MOST_BLOCKS = 720
LEAST_BLOCKS = 15
LEAST_W = 30.0
"""Under this a second tells nothing: a percentage of next to nothing, and a meter may stop at zero."""

LEAST_RPM = 20.0
MOST_TORQUE_NM = 250.0
"""No rider turns a crank with more than this through a second: the cadence is wrong."""

ASIDE_S = 3
"""Seconds left out on either side of such a one. What a display carries over from one second into the next would else
be lost on the side that is left out, and make the unit look low."""

NOISE_SHARE = 0.02
ROUNDING_W = 0.5
"""What one second's white noise is made of, for the weight of a block: a share of the power, and rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RelationBlocks:
    """Means over n blocks. ``error`` is unit over reference less one, as a ratio of sums; ``noise`` the expected
    variance of its white noise, of which only proportions count, and ``edge`` what a response or clock off by one
    second would add to it by moving power from one block into the next; ``at_s`` seconds after the reference's first
    sample.

    ``expected_w``, ``both_w`` (mean of both meters, the unit scaled to the reference), ``omega`` (rad/s) are means over
    the seconds used, ``omega`` NaN without cadence. ``second`` (m,) are those seconds as places in the arrays given and
    ``block`` (m,) the block of each. ``begins_s`` is the first second that both recorded, ``ends_s`` the last.
    """

    at_s: FloatArray
    error: FloatArray
    noise: FloatArray
    edge: FloatArray
    expected_w: FloatArray
    both_w: FloatArray
    omega: FloatArray
    second: IntArray
    block: IntArray
    block_s: float
    begins_s: float
    ends_s: float
    lacks: str = ""

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("at_s", "error", "noise", "edge", "expected_w", "both_w", "omega"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))

    @property
    def count(self) -> int:
        """How many blocks there are."""
        return self.error.size

    def at_cadence(self, omega: float) -> RelationBlocks:
        """The same blocks as if the crank had turned with ``omega`` (rad/s) throughout."""
        return replace(self, omega=np.full(self.count, omega))

    def means(self, values: FloatArray, weight: FloatArray | None = None) -> FloatArray:
        """Mean of ``values`` (one for each second of the ride, NaN where missing) over each block's seconds (n,).

        ``weight``, of the same shape, is the weight of each second. NaN where a block holds less than half of its.
        """
        used = values[self.second]
        known = np.isfinite(used)
        weights = np.ones(used.size) if weight is None else weight[self.second]
        sums = np.bincount(self.block, np.where(known, used, 0.0) * weights, self.count)
        totals = np.bincount(self.block, known * weights, self.count)
        enough = np.bincount(self.block, known, self.count) >= np.bincount(self.block, minlength=self.count) / 2
        return np.where(enough & (totals > 0), sums / np.where(totals > 0, totals, 1.0), np.nan)


def relation_blocks(
    time_s: FloatArray, expected_w: FloatArray, unit_w: FloatArray, cadence_rpm: FloatArray | None = None
) -> RelationBlocks:
    """Cut the ride into blocks. Shapes (n,), NaN where missing.

    With ``cadence_rpm`` only seconds count in which it is known and can be (``LEAST_RPM``, ``MOST_TORQUE_NM``); either
    way only those with at least ``LEAST_W`` expected. Coasting, which shows no torque and hides a zero, is so left out.
    A block counts with half of the samples it usually has. ``lacks`` is the slug of why there are too few.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return _none(stretch.lacks)
    cut = slice(stretch.first, stretch.first + stretch.present.size)
    usable = stretch.present & (stretch.expected_w >= LEAST_W)
    omega = np.full(stretch.present.size, np.nan)
    if cadence_rpm is not None:
        turning = cadence_rpm[cut]
        omega = RADIANS_PER_S * turning
        with np.errstate(invalid="ignore"):
            usable &= (turning >= LEAST_RPM) & (stretch.expected_w <= MOST_TORQUE_NM * omega)
        if usable.sum() < stretch.present.sum() / 10:
            return _none("no_cadence")
    usable &= ~_near(stretch.present & ~usable)
    density = sample_density(stretch.present)
    block_s = max(BLOCK_S, -(-stretch.present.size // MOST_BLOCKS), round(4 / density))
    second, block, counts = _blocks(usable, block_s, density)
    if counts.size < LEAST_BLOCKS:
        return _none("too_short")
    expected, unit = stretch.expected_w[second], stretch.unit_w[second]
    sums = {name: np.bincount(block, values, counts.size) for name, values in (("e", expected), ("u", unit))}
    squares = np.bincount(block, expected**2, counts.size)
    ends = _ends(expected, counts)
    noise = NOISE_SHARE**2 * squares + ROUNDING_W**2 * counts
    ratio = float(sums["u"].sum() / sums["e"].sum())
    return RelationBlocks(
        at_s=np.bincount(block, time_s[cut][second], counts.size) / counts,
        error=sums["u"] / sums["e"] - 1,
        noise=noise / sums["e"] ** 2,
        edge=(ends / sums["e"]) ** 2,
        expected_w=sums["e"] / counts,
        both_w=(sums["e"] + sums["u"] / max(ratio, 0.01)) / (2 * counts),
        omega=np.bincount(block, omega[second], counts.size) / counts,
        second=second + stretch.first,
        block=block,
        block_s=float(block_s),
        begins_s=float(time_s[cut][0]),
        ends_s=float(time_s[cut][-1]),
    )


def _near(marked: BoolArray) -> BoolArray:
    """Where a marked second is within ``ASIDE_S``, (n,)."""
    return np.convolve(marked, np.ones(2 * ASIDE_S + 1), mode="same")[: marked.size] > 0.5


def _blocks(usable: BoolArray, block_s: int, density: float) -> tuple[IntArray, IntArray, FloatArray]:
    """Seconds used, the block of each, and how many each block holds; thin blocks are left out."""
    number = np.arange(usable.size) // block_s
    counts = np.bincount(number, usable)
    kept = counts >= max(density * block_s / 2, 1)
    place = np.cumsum(kept) - 1
    second = np.flatnonzero(usable & kept[number])
    return second, place[number[second]], counts[kept].astype(np.float64)


def _ends(expected_w: FloatArray, counts: FloatArray) -> FloatArray:
    """How much more power the end of each block has than its beginning, W: means of three seconds."""
    last = np.cumsum(counts).astype(np.int64) - 1
    first = np.append(0, last[:-1] + 1)
    reach = np.minimum(2, counts.astype(np.int64) - 1)
    cumulative = np.append(0.0, np.cumsum(expected_w))
    late = (cumulative[last + 1] - cumulative[last - reach]) / (reach + 1)
    early = (cumulative[first + reach + 1] - cumulative[first]) / (reach + 1)
    return np.asarray(late - early, dtype=np.float64)


def _none(slug: str) -> RelationBlocks:
    """No blocks, for the reason ``slug``."""
    empty, nothing = np.zeros(0), np.zeros(0, dtype=np.int64)
    return RelationBlocks(
        at_s=empty,
        error=empty,
        noise=empty,
        edge=empty,
        expected_w=empty,
        both_w=empty,
        omega=empty,
        second=nothing,
        block=nothing,
        block_s=float(BLOCK_S),
        begins_s=float("nan"),
        ends_s=float("nan"),
        lacks=slug,
    )
