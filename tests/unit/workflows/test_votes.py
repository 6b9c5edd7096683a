"""Three meters vote: a fall that one of them has alone is that one's."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wattwitness.model.episodes import Finding, WitnessKind
from wattwitness.model.settings import CompareSettings
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import Meter
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.workflows.compare import compare_recordings

DROP = (Fault(kind=FaultKind.DROP, start_s=1000.0, duration_s=40.0, depth_pct=-25.0, edge_s=2.0),)
CRANK = Meter(name="crank", noise_pct=1.5)


@pytest.mark.parametrize("faulty", ["bike", "pedals"])
def test_the_third_meter_tells_whose_fall_it_is(faulty: str) -> None:
    meters = tuple(replace(meter, faults=DROP if meter.name == faulty else ()) for meter in (PEDALS, BIKE, CRANK))
    ride = simulate_ride(RideSpec(name="three", meters=meters, effort=GroupRide(mean_w=190.0), duration_s=1800.0), 4)
    bike, crank = compare_recordings(ride.recordings, CompareSettings()).pairs
    assert bike.faults is not None
    assert crank.faults is not None
    (episode,) = (one for one in bike.faults.episodes if abs(one.start_s - 1000) < 10)
    assert any(witness.kind is WitnessKind.OTHER_METER for witness in episode.witnesses)
    assert episode.finding is (Finding.UNIT if faulty == "bike" else Finding.REFERENCE)
    assert episode.energy_kj.assessed is (faulty == "bike")
    blamed = [one.finding for one in crank.faults.episodes if abs(one.start_s - 1000) < 10]
    assert blamed == ([] if faulty == "bike" else [Finding.REFERENCE])


def test_a_third_meter_speaks_of_zeros_and_a_dead_one_of_nothing() -> None:
    """Zeros of one while the third keeps to the reference are said by the third; 0 W throughout keeps to nothing."""
    zeros = (Fault(kind=FaultKind.ZERO, start_s=1000.0, duration_s=60.0),)
    dead = replace(CRANK, faults=(Fault(kind=FaultKind.ZERO, start_s=0.0, duration_s=2000.0),))
    for third, speaks in ((CRANK, True), (dead, False)):
        meters = (PEDALS, replace(BIKE, faults=zeros), third)
        ride = simulate_ride(
            RideSpec(name="three", meters=meters, effort=GroupRide(mean_w=190.0), duration_s=1800.0), 4
        )
        bike = compare_recordings(ride.recordings, CompareSettings()).pairs[0]
        assert bike.faults is not None
        (episode,) = (one for one in bike.faults.episodes if abs(one.start_s - 1000) < 10)
        heard = [one for one in episode.witnesses if one.kind is WitnessKind.OTHER_METER]
        assert bool(heard) is speaks
        assert all(one.supports is Finding.UNIT and "kept to the reference" in one.says for one in heard)
    together = compare_recordings(ride.recordings, CompareSettings()).meters
    assert together is not None
    assert together.not_assessed == "too_few_meters", "0 W throughout is not put on trial"
