"""Every registered detector on a known fault, on a clean ride, and on no data."""

from __future__ import annotations

import math

import pytest

from tests.unit.faults.made import FAULTY, FROM, nothing, ride, view_of
from wattwitness.faults.detectors.registry import DETECTORS
from wattwitness.model.episodes import EpisodeKind


def test_each_has_a_known_fault_here() -> None:
    assert set(FAULTY) == set(DETECTORS.names())


@pytest.mark.parametrize("name", DETECTORS.names())
def test_a_known_fault_is_found_once_and_at_its_place(name: str) -> None:
    (found,) = DETECTORS.get(name).find(view_of(FAULTY[name]()))
    assert found.kind.value == name or (name == "easing" and found.kind is EpisodeKind.DROP and found.rider)
    assert abs(found.start_s - FROM) <= 3.0
    assert found.end_s >= found.start_s
    assert 0.99 <= found.certainty <= 1.0


@pytest.mark.parametrize("name", DETECTORS.names())
def test_a_clean_ride_holds_none(name: str) -> None:
    assert DETECTORS.get(name).find(view_of(ride())) == ()
    assert DETECTORS.get(name).find(view_of(ride(with_cadence=False))) == ()


@pytest.mark.parametrize("name", DETECTORS.names())
@pytest.mark.parametrize("seconds", [0, 1, 30, 900])
def test_no_data_gives_nothing(name: str, seconds: int) -> None:
    assert DETECTORS.get(name).find(view_of(nothing(seconds))) == ()


@pytest.mark.parametrize("name", DETECTORS.names())
def test_each_says_what_it_looks_for_in_a_sentence(name: str) -> None:
    says = DETECTORS.get(name).says
    assert says[0].isupper()
    assert says.endswith(".")


@pytest.mark.parametrize("name", DETECTORS.names())
def test_numbers_are_finite(name: str) -> None:
    for found in DETECTORS.get(name).find(view_of(FAULTY[name]())):
        assert math.isfinite(found.start_s)
        assert math.isfinite(found.end_s)
