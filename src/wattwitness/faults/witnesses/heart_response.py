"""Heart rate as a first-order response to power: up with one time constant, down with another, and late.

First-order kinetics of heart rate in cycling: a time constant up of 68.7 ± 21.5 s over 25 riders, and shorter ones down
with a longer delay in recordings of single riders (an abstract of 2019 and an open recording, as in the simulator's
defaults). Delay and a sensor's own lag cannot be told apart from the outside and are one here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray

TICK_S = 5
"""The response is followed in steps of this length."""

TAUS_UP_S = (30.0, 45.0, 65.0, 95.0)
TAUS_DOWN_S = (22.0, 35.0, 55.0, 85.0)
DELAYS_S = (0.0, 7.0, 15.0, 26.0)
HOLDS_S = (0.0, 13.0)
"""How much later a fall begins to show than a rise."""

TYPICAL_UP_S, SPREAD_UP = 65.0, 0.40
TYPICAL_DOWN_S, SPREAD_DOWN = 45.0, 0.45
"""What is known before the ride: the middle, and the standard deviation of the logarithm."""

LONGEST_USUAL_DELAY_S, DELAY_TAIL_S = 18.0, 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Responses:
    """g responses, shape (g,) each: seconds. ``prior`` is the logarithm of what is known of each before the ride."""

    tau_up_s: FloatArray
    tau_down_s: FloatArray
    delay_s: FloatArray
    hold_s: FloatArray

    @property
    def prior(self) -> FloatArray:
        """Log density, up to a constant."""
        up = np.log(self.tau_up_s / TYPICAL_UP_S) / SPREAD_UP
        down = np.log(self.tau_down_s / TYPICAL_DOWN_S) / SPREAD_DOWN
        late = np.maximum(self.delay_s - LONGEST_USUAL_DELAY_S, 0.0) / DELAY_TAIL_S
        return np.asarray(-0.5 * (up * up + down * down + late * late))

    def chosen(self, kept: IntArray) -> Responses:
        """Those at the places ``kept``."""
        return Responses(
            tau_up_s=self.tau_up_s[kept],
            tau_down_s=self.tau_down_s[kept],
            delay_s=self.delay_s[kept],
            hold_s=self.hold_s[kept],
        )


def _of(rows: list[tuple[float, ...]]) -> Responses:
    up, down, delay, hold = (np.array(column) for column in zip(*rows, strict=True))
    return Responses(tau_up_s=up, tau_down_s=down, delay_s=delay, hold_s=hold)


def everywhere() -> Responses:
    """A coarse net over all that hearts and sensors do."""
    return _of(list(product(TAUS_UP_S, TAUS_DOWN_S, DELAYS_S, HOLDS_S)))


def near(responses: Responses, place: int) -> Responses:
    """A finer net around one of ``responses``."""
    steps = (0.80, 0.92, 1.06, 1.22)
    up, down = float(responses.tau_up_s[place]), float(responses.tau_down_s[place])
    delay, hold = float(responses.delay_s[place]), float(responses.hold_s[place])
    delays = sorted({max(delay + step, 0.0) for step in (-4.0, 0.0, 4.0)})
    holds = sorted({max(hold + step, 0.0) for step in (-6.0, 0.0, 6.0)})
    return _of(list(product([up * step for step in steps], [down * step for step in steps], delays, holds)))


def followed(power_w: FloatArray, responses: Responses, first_tick: int, start: FloatArray | None) -> FloatArray:
    """What each response makes of ``power_w`` ((n,), one a second, none missing), W, shape (ticks, g).

    From tick ``first_tick`` on, whose state before is ``start`` (g,); ``None``: settled at the first half minute.
    """
    ticks = power_w.size // TICK_S
    sums = np.concatenate([[0.0], np.cumsum(power_w)])
    begins = np.arange(first_tick, ticks + 1) * float(TICK_S)
    level = float(power_w[:30].mean()) if power_w.size else 0.0

    def late(delay_s: float) -> FloatArray:
        at = begins - delay_s
        total = np.interp(at, np.arange(sums.size), sums) + np.minimum(at, 0.0) * level
        return np.asarray(np.diff(total) / TICK_S)

    up = _columns(responses.delay_s, late)
    down = _columns(responses.delay_s + responses.hold_s, late)
    gain_up, gain_down = (1.0 - np.exp(-TICK_S / tau) for tau in (responses.tau_up_s, responses.tau_down_s))
    now = np.full(responses.delay_s.size, level) if start is None else start.copy()
    held = np.empty_like(up)
    for tick in range(up.shape[0]):
        rise, fall = up[tick] - now, down[tick] - now
        now = now + gain_up * np.maximum(rise, 0.0) + gain_down * np.where(rise > 0.0, 0.0, np.minimum(fall, 0.0))
        held[tick] = now
    return held


def _columns(delays_s: FloatArray, late: Callable[[float], FloatArray]) -> FloatArray:
    """One column for each delay, each different one computed once."""
    different, place = np.unique(delays_s, return_inverse=True)
    return np.asarray(np.stack([late(float(delay)) for delay in different], axis=1)[:, place])
