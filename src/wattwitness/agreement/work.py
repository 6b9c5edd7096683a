"""Total work on both meters."""

from __future__ import annotations

from wattwitness.agreement.common import common_stretch
from wattwitness.model.agreement import TotalWork
from wattwitness.model.arrays import FloatArray


def total_work(expected_w: FloatArray, unit_w: FloatArray) -> TotalWork | None:
    """Return the work over the seconds both were present; ``None`` if there is none. Powers (n,), NaN where missing."""
    stretch = common_stretch(expected_w, unit_w)
    if not stretch.present.size:
        return None
    return TotalWork(reference_kj=float(stretch.expected_w.sum()) / 1000, unit_kj=float(stretch.unit_w.sum()) / 1000)
