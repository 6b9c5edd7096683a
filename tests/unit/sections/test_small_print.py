"""The small print: what is not set is no longer said to be left out, and what is left out is counted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.factories import comparison, pair
from tests.unit.sections.test_over_rides import GOOD, study
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.section import Table
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.sections import small_print
from wattwitness.sections.publication import of_study

OUT = (
    LeftOutStretch(from_s=300, to_s=420, reason="drank"),
    LeftOutStretch(from_s=3600, to_s=3661, reason="fell"),
)


@pytest.mark.parametrize("settings", [CompareSettings(), AloneSettings()], ids=["two", "alone"])
def test_a_setting_that_is_not_set_is_not_left_out(settings: CompareSettings | AloneSettings) -> None:
    line = small_print.settings_line(settings)
    cells = [cell for row in small_print.settings_table(settings).rows for cell in row[:2]]
    assert "left out" not in line
    assert "left out" not in cells
    assert "stretches_out not set" in line or isinstance(settings, AloneSettings)


def test_settings_that_each_ride_states_are_not_said_of_all() -> None:
    line = small_print.settings_line(CompareSettings(), many_rides=True)
    assert "stretches_out as stated for each ride" in line
    assert "offsets_s as stated for each ride" in line
    assert "limit_pct not set" in line
    found = replace(study(GOOD), settings=CompareSettings())
    (table,) = [
        block
        for section in of_study(found).sections
        for block in section.blocks
        if isinstance(block, Table) and block.caption == "The settings"
    ]
    assert {row[0]: row[1] for row in table.rows}["stretches_out"] == "as stated for each ride"


def test_stretches_left_out_of_one_ride_are_counted() -> None:
    whole, cut = (comparison(pair()), replace(comparison(pair()), settings=CompareSettings(stretches_out=OUT)))
    *_, none = small_print.of_comparison(whole)
    *_, some = small_print.of_comparison(cut)
    assert none.startswith("The tester left out no stretch of the ride. ")
    assert some.replace("\u00a0", " ").startswith(
        "Left out by the tester: 2 stretches of the ride (0:05:00 to 0:07:00, "
    ), some
    assert some.endswith(small_print.PRIVATE)


def test_stretches_left_out_of_a_study_are_counted_and_told_by_ride() -> None:
    none, *rest = GOOD
    rides = [none, replace(rest[0], stretches_out_s=((300.0, 420.0), (600.0, 660.0))), *rest[1:]]
    text = small_print.left_out_words(study(rides), ()).replace("\u00a0", " ")
    assert text.startswith(
        "No ride was left out. Left out by the tester: 2 stretches of 1 ride "
        f"({rest[0].name}: 0:05:00 to 0:07:00, 0:10:00 to 0:11:00), with the reasons. "
    ), text
    assert small_print.left_out_words(study(GOOD), ()).startswith("No ride was left out, and no stretch of one. ")
    many = [replace(ride, stretches_out_s=((0.0, 60.0),) * 9) for ride in GOOD]
    counted = small_print.left_out_words(study(many), ()).replace("\u00a0", " ")
    assert f"{9 * len(GOOD)} stretches of {len(GOOD)} rides, with the reasons." in counted
