"""The sum of the witnesses on single rides: each culprit once, each missing channel, nothing at all."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.witnesses.rides import (
    FROM_S,
    SECONDS,
    TO_S,
    candidate_of,
    effort,
    faulty,
    heart_of,
    noisy,
    outside_of,
    ride_of,
)
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.finding import Weighed, weigh
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import EpisodeKind, Finding, WitnessKind
from wattwitness.model.recording import ChannelName

EVERY_KIND = tuple(EpisodeKind)


def weighed(ride: RideForFaults, candidate: Candidate) -> Weighed:
    return weigh(ride, candidate, outside_of(candidate, ride.time_s.size))


def log_odds(found: Weighed, kind: WitnessKind) -> float:
    return next(witness.log_odds for witness in found.witnesses if witness.kind is kind)


def with_heart(reference_w: FloatArray, unit_w: FloatArray, true_w: FloatArray) -> RideForFaults:
    return ride_of(reference_w, unit_w, reference={ChannelName.HEART_RATE: heart_of(true_w)})


def test_a_unit_that_falls_while_the_effort_goes_on_is_at_fault() -> None:
    true = effort()
    found = weighed(with_heart(noisy(true, 5), noisy(faulty(true), 6), true), candidate_of())
    assert found.finding is Finding.UNIT
    assert found.odds is not None
    assert found.odds > 20
    assert found.heart is not None
    assert found.reason.startswith("bike is at fault rather than pedals")
    assert log_odds(found, WitnessKind.REFERENCE) > 0 < log_odds(found, WitnessKind.HEART_RATE)


def test_a_reference_that_falls_is_at_fault_though_the_unit_seems_to_surge() -> None:
    true = effort()
    candidate = candidate_of(EpisodeKind.SURGE, depth_pct=43.0)
    found = weighed(with_heart(noisy(faulty(true), 5), noisy(true, 6), true), candidate)
    assert found.finding is Finding.REFERENCE
    assert found.odds is not None
    assert found.odds < 1 / 20
    assert log_odds(found, WitnessKind.HEART_RATE) < 0


@pytest.mark.parametrize("flagged", [True, False])
def test_a_rider_who_eases_off_is_no_fault(flagged: bool) -> None:
    true = faulty(effort())
    found = weighed(with_heart(noisy(true, 5), noisy(0.97 * true, 6), true), candidate_of(rider=flagged))
    assert found.finding is Finding.RIDER
    assert found.odds is None
    assert found.reason.startswith("The rider eased off")


def test_a_rider_who_eases_off_on_a_unit_with_a_zero_error_is_no_fault() -> None:
    true = faulty(np.full(SECONDS, 200.0) * effort() / effort().mean(), share=0.6)
    found = weighed(ride_of(noisy(true, 5), noisy(true - 9.0, 6)), candidate_of(depth_pct=-4.0))
    assert found.finding is Finding.RIDER


@pytest.mark.parametrize("side", [MeterSide.UNIT, MeterSide.REFERENCE])
@pytest.mark.parametrize("kind", [EpisodeKind.FROZEN, EpisodeKind.MISSING, EpisodeKind.ZEROS])
def test_a_number_that_measures_nothing_convicts_its_own_meter(kind: EpisodeKind, side: MeterSide) -> None:
    true = effort()
    broken = true.copy()
    broken[FROM_S:TO_S] = {EpisodeKind.FROZEN: 187.0, EpisodeKind.MISSING: np.nan, EpisodeKind.ZEROS: 0.0}[kind]
    powers = (broken, true) if side is MeterSide.REFERENCE else (true, broken)
    found = weighed(with_heart(*powers, true), candidate_of(kind, seen_in=side))
    assert found.finding is (Finding.REFERENCE if side is MeterSide.REFERENCE else Finding.UNIT)


def test_where_both_are_missing_nothing_is_found_of_either() -> None:
    gone = effort()
    gone[FROM_S:TO_S] = np.nan
    found = weighed(ride_of(gone, gone), candidate_of(EpisodeKind.MISSING))
    assert found.finding is Finding.UNDETERMINED
    assert found.odds is None
    assert "Neither meter" in found.reason


def test_a_clock_jump_is_no_matter_of_power() -> None:
    true = effort()
    candidate = candidate_of(EpisodeKind.CLOCK_JUMP, start_s=900, end_s=901, depth_pct=0.0)
    assert weighed(ride_of(true, true), candidate).finding is Finding.UNDETERMINED


def test_a_recorder_that_left_out_time_is_named() -> None:
    true = effort()
    gone = true.copy()
    gone[FROM_S:TO_S] = np.nan
    found = weighed(ride_of(true, gone), candidate_of(EpisodeKind.CLOCK_JUMP, seen_in=MeterSide.UNIT))
    assert found.finding is Finding.UNIT
    assert "bike left out time while pedals went on" in found.reason


def test_a_step_that_stays_is_judged_by_its_onset() -> None:
    true = effort()
    stepped = faulty(true, share=0.8, to_s=SECONDS)
    candidate = candidate_of(EpisodeKind.STEP, end_s=SECONDS, depth_pct=-20.0, lasts=True)
    ride = with_heart(noisy(true, 5), noisy(stepped, 6), true)
    found = weigh(ride, candidate, np.ones(SECONDS, dtype=bool))
    assert found.finding is Finding.UNIT


@pytest.mark.parametrize("kind", EVERY_KIND)
@pytest.mark.parametrize("seconds", [1, 30, 300])
@pytest.mark.parametrize("empty", ["reference", "unit", "both", "neither"])
def test_nothing_to_go_by_is_never_a_conviction_out_of_thin_air(kind: EpisodeKind, seconds: int, empty: str) -> None:
    power = np.full(seconds, 200.0)
    nothing = np.full(seconds, np.nan)
    ride = ride_of(
        nothing if empty in ("reference", "both") else power, nothing if empty in ("unit", "both") else power
    )
    candidate = candidate_of(kind, start_s=0.0, end_s=float(seconds))
    found = weigh(ride, candidate, np.zeros(seconds, dtype=bool))
    missing = {"reference": Finding.REFERENCE, "unit": Finding.UNIT}.get(empty, Finding.UNDETERMINED)
    assert found.finding in (Finding.UNDETERMINED, missing)
    assert found.reason
    assert all(math.isfinite(witness.log_odds) for witness in found.witnesses)


def test_every_witness_speaks_in_sentences_and_names_its_recorder() -> None:
    true = effort()
    rpm = np.full(SECONDS, 85.0)
    ride = ride_of(
        noisy(true, 5),
        noisy(faulty(true), 6),
        reference={ChannelName.HEART_RATE: heart_of(true), ChannelName.CADENCE: rpm},
        unit={ChannelName.RESISTANCE: np.round(true / 5), ChannelName.CADENCE: rpm},
    )
    found = weighed(ride, candidate_of())
    kinds = {witness.kind for witness in found.witnesses}
    assert kinds == set(WitnessKind) - {WitnessKind.OTHER_METER}
    for witness in found.witnesses:
        assert witness.says.endswith(".")
        assert witness.recorded_by in ("pedals", "bike")
