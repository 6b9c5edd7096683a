"""Cadence, resistance, surface and a third meter: what each may say and what it may not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.witnesses.rides import (
    FROM_S,
    SECONDS,
    TO_S,
    candidate_of,
    effort,
    faulty,
    noisy,
    outside_of,
    ride_of,
)
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.vote import with_votes
from wattwitness.faults.witnesses import cadence, resistance, surface
from wattwitness.faults.witnesses.ground import ground_of, stretch_of
from wattwitness.faults.witnesses.heard import Heard, Listener
from wattwitness.faults.witnesses.registry import WITNESSES
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName


def hear(module: object, ride: RideForFaults) -> Heard | None:
    candidate = candidate_of()
    ground = ground_of(ride, outside_of(candidate, ride.time_s.size))
    listening: Listener = module.listener(ground)  # type: ignore[attr-defined]
    return listening(stretch_of(ground, candidate))


def studio_ride(*, by_reference: bool = False, computed: bool = False) -> RideForFaults:
    """Power goes as level times cadence; one meter loses 30 % for a while."""
    generator = np.random.default_rng(11)
    level = np.array([30.0, 40.0, 25.0, 35.0])[np.arange(SECONDS) // 300 % 4]
    rpm = 85 + 4 * np.sin(np.arange(SECONDS) / 47.0) + generator.standard_normal(SECONDS)
    true = 0.07 * level * rpm
    scatter = 0.0 if computed else 0.02
    exact = true * (1 + scatter * generator.standard_normal(SECONDS))
    bad, good = faulty(noisy(true, 5, 0.02)), noisy(exact, 6, scatter)
    reference, unit = (bad, good) if by_reference else (good, bad)
    return ride_of(reference, unit, unit={ChannelName.RESISTANCE: level, ChannelName.CADENCE: rpm})


def test_the_meter_that_leaves_its_surface_is_at_fault() -> None:
    for by_reference, side in ((False, Finding.UNIT), (True, Finding.REFERENCE)):
        found = hear(surface, studio_ride(by_reference=by_reference))
        assert found is not None
        assert found.witness.supports is side
        assert found.witness.change.value == pytest.approx(0.0, abs=6.0)


def test_a_unit_that_computes_its_power_from_cadence_and_resistance_has_no_surface_to_speak_for_it() -> None:
    found = hear(surface, studio_ride(by_reference=True, computed=True))
    assert found is not None
    assert found.witness.supports is Finding.UNDETERMINED
    assert "may compute its power" in found.witness.says


def test_without_resistance_there_is_no_surface_and_cadence_admits_what_it_cannot_exclude() -> None:
    true = effort()
    ride = ride_of(noisy(true, 5), noisy(faulty(true), 6), unit={ChannelName.CADENCE: noisy(np.full(SECONDS, 85.0), 9)})
    assert hear(surface, ride) is None
    assert hear(resistance, ride) is None
    found = hear(cadence, ride)
    assert found is not None
    assert "cannot exclude" in found.witness.says
    assert abs(found.witness.log_odds) <= cadence.MOST_LOG_ODDS


def test_a_stretch_ridden_as_nowhere_else_is_not_foretold() -> None:
    ride = studio_ride()
    level = ride.pair.unit[ChannelName.RESISTANCE].copy()
    level[FROM_S - 1 : TO_S + 1] = 90.0
    unit = {**ride.pair.unit, ChannelName.RESISTANCE: level}
    found = hear(surface, ride_of(ride.expected_w, ride.unit_w, unit=unit))
    assert found is not None
    assert found.witness.log_odds == 0.0
    assert not found.witness.change.assessed


def test_resistance_says_whether_it_was_held() -> None:
    held = hear(resistance, studio_ride())
    assert held is not None
    assert held.witness.log_odds == 0.0
    assert held.witness.says == "The resistance that bike logged was held at 30."


@pytest.mark.parametrize("name", WITNESSES.names())
@pytest.mark.parametrize("value", [np.nan, 0.0])
def test_every_witness_survives_channels_without_anything_in_them(name: str, value: float) -> None:
    nothing = np.full(SECONDS, value)
    channels = dict.fromkeys((ChannelName.CADENCE, ChannelName.RESISTANCE, ChannelName.HEART_RATE), nothing)
    true = effort()
    candidate = candidate_of()
    for reference, unit in ((true, faulty(true)), (nothing, true), (nothing, nothing)):
        ground = ground_of(ride_of(reference, unit, unit=channels), outside_of(candidate))
        found = WITNESSES.get(name).listener(ground)(stretch_of(ground, candidate))
        if found is not None and name != "reference":
            assert found.witness.log_odds == pytest.approx(0.0, abs=cadence.MOST_LOG_ODDS)
            assert found.witness.says


def episode(odds: float | None, finding: Finding, depth_pct: float = -30.0) -> Episode:
    return Episode(
        kind=EpisodeKind.DROP,
        start_s=float(FROM_S),
        end_s=float(TO_S),
        depth_pct=Estimate(value=depth_pct, low=depth_pct - 2, high=depth_pct + 2, unit="%"),
        energy_kj=Estimate.missing("not_asked", "kJ"),
        energy_share_pct=None,
        certainty=0.999,
        finding=finding,
        reason="The witnesses do not tell.",
        odds=odds,
    )


def other(power_w: FloatArray, true: FloatArray) -> tuple[str, FloatArray, FloatArray]:
    return ("crank", noisy(true, 21), noisy(power_w, 22))


def test_a_third_meter_that_keeps_to_the_reference_convicts_the_unit() -> None:
    true = effort()
    voted = with_votes(episode(1.0, Finding.UNDETERMINED), [other(true, true)])
    assert voted.finding is Finding.UNIT
    assert voted.witnesses[-1].kind is WitnessKind.OTHER_METER
    assert "crank kept to the reference" in voted.reason


def test_a_third_meter_that_parts_with_the_unit_convicts_the_reference() -> None:
    true = effort()
    voted = with_votes(episode(2.0, Finding.UNDETERMINED), [other(faulty(true), true)])
    assert voted.finding is Finding.REFERENCE


def test_votes_against_the_finding_can_undo_it() -> None:
    true = effort()
    voted = with_votes(episode(40.0, Finding.UNIT), [other(faulty(true), true)])
    assert voted.finding is not Finding.UNIT


def test_a_vote_leaves_the_rider_alone_and_says_nothing_where_it_cannot() -> None:
    true = effort()
    eased = episode(None, Finding.RIDER)
    assert with_votes(eased, []) is eased
    assert with_votes(eased, [other(true, true)]).finding is Finding.RIDER
    nothing = np.full(SECONDS, np.nan)
    voted = with_votes(episode(30.0, Finding.UNIT), [("crank", nothing, nothing)])
    assert voted.finding is Finding.UNIT
    assert voted.witnesses[-1].log_odds == 0.0
    unsure = replace(episode(30.0, Finding.UNIT), depth_pct=Estimate.missing("frozen", "%"))
    assert with_votes(unsure, [other(true, true)]).odds == pytest.approx(30.0)
