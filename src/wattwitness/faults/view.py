"""What every detector is given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.kernels import kernel_lag_s, response_kernel
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.relation import Relation
from wattwitness.faults.residual import Residual
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.settings import CompareSettings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DetectorView:
    """One ride with its fitted relation and what that leaves; ``taken`` (n,) are seconds already in a candidate,
    ``steps_s`` the steps already in the relation.

    ``cadence_rpm`` (n,) is ``None`` where neither recording has any; ``pedalled`` (n,) are seconds in which the
    cranks surely turned.
    """

    ride: RideForFaults
    settings: CompareSettings
    cadence_rpm: FloatArray | None
    relation: Relation
    residual: Residual
    taken: BoolArray
    pedalled: BoolArray
    steps_s: tuple[float, ...] = ()

    @property
    def hours(self) -> float:
        """How long both meters showed power."""
        return float(np.sum(np.isfinite(self.ride.expected_w) & np.isfinite(self.ride.unit_w))) / 3600.0

    @property
    def blur_s(self) -> int:
        """Seconds on either side of an edge over which the display spreads it."""
        return -(-response_kernel(self.ride.response.unit).size // 2)

    @property
    def late_s(self) -> float:
        """How late the compared power of the unit is against what it showed: it was passed through the reference's
        response where that is the slower one.
        """
        return kernel_lag_s(response_kernel(self.ride.response.reference))


@dataclass(frozen=True, slots=True, kw_only=True)
class Detector:
    """One detector: its ``name``, what it looks for in a sentence, and how. ``find`` gives nothing where it sees none.

    ``on_residual``: it works on what the relation leaves, so it is asked again once that is refitted; the others read
    the samples as recorded and are asked once.
    """

    name: str
    says: str
    find: Callable[[DetectorView], tuple[Candidate, ...]]
    on_residual: bool = False
