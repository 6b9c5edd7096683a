"""What a study keeps of one ride: missing is missing, and no number."""

from __future__ import annotations

import math
from dataclasses import replace

from tests.factories import ambiguous, pair
from tests.unit.study.figures import figures
from wattwitness.model.section import Table
from wattwitness.sections.over_rides.rides import build
from wattwitness.study.assemble import StudyQuestion, study_of
from wattwitness.study.ride_figures import RideNotes, figures_of_ride
from wattwitness.words.numbers import ABSENT


def test_a_ride_in_which_one_meter_shows_one_number_does_not_count_and_says_so() -> None:
    sound = pair()
    dead = replace(sound, unit=replace(sound.unit, one_power_w=0.0))
    figures_ = figures_of_ride(dead, RideNotes(name="dead"))
    assert figures_.left_out == "one_number"
    assert figures_.left_out_why.startswith("The unit shows 0 W in every sample. Most likely its power was never")
    held = figures_of_ride(replace(sound, reference=replace(sound.reference, one_power_w=180.0)), RideNotes(name="x"))
    assert held.left_out_why.startswith("The reference shows 180 W in every sample. Most likely that is a target")


def test_a_ride_without_a_common_clock_has_no_hours_rather_than_none_ridden() -> None:
    """Half an hour that both recorded is not 0.00 h because nobody can say which half hour it was."""
    flat = figures_of_ride(ambiguous().pairs[0], RideNotes(name="flat"))
    assert flat.left_out
    assert math.isnan(flat.hours)
    assert figures_of_ride(pair(), RideNotes(name="sound")).hours > 0
    rides = [figures(0, -4.0), figures(1, -4.4), replace(flat, unit="bike A")]
    (table,) = [
        block
        for block in build(study_of("bike A", rides, StudyQuestion(), version="0")).blocks
        if isinstance(block, Table)
    ]
    assert [row[2] for row in table.rows] == ["1.00", "1.00", ABSENT]
