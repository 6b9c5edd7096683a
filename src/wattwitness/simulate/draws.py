"""Random draws that are the same on every machine: whole numbers of a PCG64 stream, one stream for each purpose.

Only ``random_raw`` of the bit generator is used, whose stream numpy promises to keep (its enhancement proposal 19),
not the distributions on top of it, which may change with its version and call the machine's own log and exp.
"""

from __future__ import annotations

import math
import zlib

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray

_LANES = 16
_LANE_SPAN = 65_536
_MEAN = _LANES * (_LANE_SPAN - 1) / 2
_SD = math.sqrt(_LANES * (_LANE_SPAN**2 - 1) / 12)


class Draws:
    """A stream of draws for one ``purpose`` under one ``seed`` (a whole number from 0)."""

    def __init__(self, seed: int, purpose: str) -> None:
        """Open the stream; other purposes and seeds are independent of it."""
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, zlib.crc32(purpose.encode())]))

    def uniform(self, count: int) -> FloatArray:
        """``count`` numbers from 0 to below 1, in steps of 2**-53."""
        return (self._raw(count) >> np.uint64(11)).astype(np.float64) * 2.0**-53

    def between(self, low: float, high: float) -> float:
        """One number from ``low`` to below ``high``."""
        return low + (high - low) * float(self.uniform(1)[0])

    def whole(self, low: int, high: int, count: int) -> IntArray:
        """``count`` whole numbers from ``low`` to ``high``, both included."""
        return low + np.floor(self.uniform(count) * (high - low + 1)).astype(np.int64)

    def normal(self, count: int) -> FloatArray:
        """``count`` draws of mean 0 and standard deviation 1, close to normal.

        Each is the standardised sum of sixteen 16-bit whole numbers (Irwin-Hall): exact in whole numbers, so no bit of
        it hangs on the machine. Its excess kurtosis is -1.2/16 and its tails end at 6.9.
        """
        lanes = self._raw(_LANES // 4 * count).view(np.uint16).reshape(count, _LANES)
        return np.asarray((lanes.sum(axis=1, dtype=np.int64) - _MEAN) / _SD)

    def _raw(self, count: int) -> np.ndarray[tuple[int], np.dtype[np.uint64]]:
        return np.asarray(self._bits.random_raw(count), dtype=np.uint64)


def derived_seed(seed: int, name: str) -> int:
    """A seed of its own for the part ``name`` of whatever ``seed`` stands for."""
    return int(np.random.SeedSequence([seed, zlib.crc32(name.encode())]).generate_state(1, np.uint32)[0])
