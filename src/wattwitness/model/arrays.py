"""Arrays on results: copied when an object is made, read-only ever after."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


def frozen_floats(values: Iterable[float] | NDArray[Any]) -> FloatArray:
    """Return a read-only float64 copy of ``values``."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array
