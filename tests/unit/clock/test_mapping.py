"""Segments map time; a clock by hand is one segment and says that it was given."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.factories import clock
from tests.unit.clock.rides import recording
from wattwitness.clock.by_hand import clock_by_hand, held_against
from wattwitness.clock.mapping import to_reference_s, to_unit_s
from wattwitness.model.clock import ClockSegment, ClockStatus
from wattwitness.model.estimate import Estimate


def test_an_offset_by_hand_is_added_and_nothing_else() -> None:
    """No drift, no jumps, no width, no candidates, and the reason names the tester's hand."""
    made = recording(np.arange(5.0), power=np.ones(5))
    clock = clock_by_hand(made, 3.5, level=0.9)
    assert to_reference_s(clock, made.time_s).tolist() == [3.5, 4.5, 5.5, 6.5, 7.5]
    assert clock.status is ClockStatus.BY_HAND
    assert (clock.offset_s.low, clock.offset_s.high, clock.offset_s.level) == (3.5, 3.5, 0.9)
    assert clock.drift_ppm.not_assessed == "given_by_hand"
    assert math.isnan(clock.standard_uncertainty_s)
    assert "taken as exact" in clock.reason


def test_an_offset_that_is_no_number_is_refused() -> None:
    """Not a NaN, not an infinity."""
    made = recording(np.arange(5.0), power=np.ones(5))
    with pytest.raises(ValueError, match="number of seconds"):
        clock_by_hand(made, math.nan)


def test_each_segment_maps_its_own_stretch_with_its_drift() -> None:
    """Drift turns about the anchor; a boundary belongs to the segment that begins there."""
    made = recording(np.arange(5.0), power=np.ones(5))
    segments = (
        ClockSegment(start_unit_s=-math.inf, end_unit_s=10.0, anchor_unit_s=0.0, offset_s=1.0, drift_ppm=1e5),
        ClockSegment(start_unit_s=10.0, end_unit_s=math.inf, anchor_unit_s=10.0, offset_s=60.0, drift_ppm=0.0),
    )
    clock = replace(clock_by_hand(made, 0.0), segments=segments)
    assert to_reference_s(clock, np.array([-5.0, 0.0, 9.0, 10.0, 11.0])) == pytest.approx([-4.5, 1.0, 10.9, 70.0, 71.0])


def test_a_clock_without_segments_maps_nothing() -> None:
    """An unusable clock is never used silently."""
    made = recording(np.arange(5.0), power=np.ones(5))
    clock = replace(clock_by_hand(made, 0.0), segments=(), status=ClockStatus.AMBIGUOUS)
    with pytest.raises(ValueError, match="ambiguous maps no time"):
        to_reference_s(clock, made.time_s)


def test_the_way_back_is_the_inverse() -> None:
    """Across a jump forward, with drift; a moment between two segments goes to the nearer end."""
    made = recording(np.arange(5.0), power=np.ones(5))
    segments = (
        ClockSegment(start_unit_s=-math.inf, end_unit_s=10.0, anchor_unit_s=0.0, offset_s=1.0, drift_ppm=200.0),
        ClockSegment(start_unit_s=10.0, end_unit_s=math.inf, anchor_unit_s=10.0, offset_s=60.0, drift_ppm=-50.0),
    )
    clock = replace(clock_by_hand(made, 0.0), segments=segments)
    unit_s = np.array([-5.0, 0.0, 9.5, 10.0, 11.0, 5000.0])
    assert to_unit_s(clock, to_reference_s(clock, unit_s)) == pytest.approx(unit_s, abs=1e-9)
    assert to_unit_s(clock, np.array([12.0, 69.0])) == pytest.approx([11.0, 9.0], abs=0.01)
    with pytest.raises(ValueError, match="maps no time"):
        to_unit_s(replace(clock, segments=()), unit_s)


def test_an_offset_by_hand_is_held_against_what_the_program_finds() -> None:
    made = recording(np.arange(5.0), power=np.ones(5))
    found = replace(clock(), offset_s=Estimate(value=-3.0, low=-3.1, high=-2.9, unit="s"))
    near, far = (held_against(clock_by_hand(made, given), found) for given in (-3.5, 5.0))
    assert "finds -3.00 s, 0.50 s from it." in near.reason
    assert "finds -3.00 s, 8.00 s from it: one of the two is wrong." in far.reason
    assert far.offset_s.value == 5.0
    lost = replace(found, status=ClockStatus.AMBIGUOUS, reason="Two fit.")
    assert "finds no one clock: Two fit." in held_against(near, lost).reason
