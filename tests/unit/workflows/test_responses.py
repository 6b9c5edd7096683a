"""A response is read from numbers that somebody rode."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wattwitness.model.settings import CompareSettings
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import Meter, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import PEDALS
from wattwitness.workflows.compare import compare_recordings

RECORDED = (
    Fault(kind=FaultKind.FROZEN, start_s=600.0, duration_s=240.0),
    Fault(kind=FaultKind.SPIKE, start_s=1100.0, duration_s=2.0),
    Fault(kind=FaultKind.SPIKE, start_s=1500.0, duration_s=1.0),
    Fault(kind=FaultKind.ZERO, start_s=1300.0, duration_s=30.0),
)


@pytest.mark.parametrize("faults", [(), RECORDED], ids=["sound", "frozen, leaping and zero"])
def test_a_six_second_mean_comes_back(faults: tuple[Fault, ...]) -> None:
    bike = Meter(name="bike", noise_pct=1.0, display=mean_of(6.0))
    spec = RideSpec(
        name="x", meters=(PEDALS, replace(bike, faults=faults)), effort=GroupRide(mean_w=190.0), duration_s=2400.0
    )
    pair = compare_recordings(simulate_ride(spec, 8).recordings, CompareSettings()).pairs[0]
    assert pair.response.unit.width_s.value == pytest.approx(6.0, abs=0.6)
