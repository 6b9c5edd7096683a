"""A stretch that the tester leaves out counts nowhere, and is told wherever a result stands on it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wattwitness.cli.setting_options import settings_from
from wattwitness.model.comparison import PairComparison
from wattwitness.model.errors import SettingInvalid
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.recording import Severity
from wattwitness.model.ride_list import ListedRide
from wattwitness.model.settings import CompareSettings
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.ride import RideSpec
from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario
from wattwitness.workflows.compare import RecordingChoice, compare_recordings, read_choices
from wattwitness.workflows.one_ride import RideTask, figures_of
from wattwitness.workflows.simulate import write_scenario

DROP = (900.0, 1200.0)
OUT = LeftOutStretch(from_s=890.0, to_s=1215.0, reason="the strap was loose")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Forty minutes in which the bike loses 40 % for five."""
    drop = Fault(kind=FaultKind.DROP, start_s=DROP[0], duration_s=DROP[1] - DROP[0], depth_pct=-40.0, edge_s=2.0)
    spec = RideSpec(meters=(PEDALS, replace(BIKE, faults=(drop,))), effort=GroupRide(mean_w=190.0), duration_s=2400.0)
    folder = tmp_path_factory.mktemp("ride")
    paths = write_scenario(Scenario(name="one", summary="One.", rides=(spec,)), seed=4, folder=folder)
    return str(paths[0]), str(paths[1])


def compared(files: tuple[str, str], *stretches: LeftOutStretch) -> PairComparison:
    recordings = read_choices([RecordingChoice(argument=file) for file in files])
    return compare_recordings(recordings, CompareSettings(stretches_out=stretches)).pairs[0]


def test_what_is_left_out_is_neither_bias_nor_episode(files: tuple[str, str]) -> None:
    whole, without = compared(files), compared(files, OUT)
    assert whole.faults is not None
    assert without.faults is not None
    assert whole.overall.bias_pct.value is not None
    assert without.overall.bias_pct.value is not None
    assert [episode.start_s for episode in whole.faults.episodes if episode.start_s > 800] != []
    assert [episode for episode in without.faults.episodes if 850 < episode.start_s < 1250] == []
    assert without.overall.bias_pct.value - whole.overall.bias_pct.value > 3
    assert whole.common_seconds - without.common_seconds == pytest.approx(325, abs=2)
    assert without.clock.offset_s.value == whole.clock.offset_s.value


def test_it_is_told_with_its_reason_its_share_and_what_the_bias_would_be(files: tuple[str, str]) -> None:
    (notice,) = [one for one in compared(files, OUT).notices if one.slug == "left_out_by_tester"]
    assert "0:14:50 to 0:20:15 (the strap was loose)" in notice.message
    assert "13." in notice.message
    whole = compared(files).overall.bias_pct.value
    assert whole is not None
    assert f"{abs(whole):.1f}" in notice.message
    assert notice.severity is Severity.NOTE


def test_a_fault_that_was_left_out_is_said_to_be_in_no_count(files: tuple[str, str]) -> None:
    (notice,) = [one for one in compared(files, OUT).notices if one.slug == "episodes_left_out"]
    assert "put down to the unit" in notice.message
    assert "in no count of faults" in notice.message
    elsewhere = compared(files, LeftOutStretch(from_s=30, to_s=60, reason="a bottle"))
    assert [one for one in elsewhere.notices if one.slug == "episodes_left_out"] == []


def test_a_study_says_that_a_clock_was_given_by_hand(files: tuple[str, str]) -> None:
    ride = ListedRide(name="monday", reference=files[0], unit=files[1], offset_s=40.0)
    figures = figures_of(RideTask(ride=ride, settings=CompareSettings(), zones=SEVEN, threshold_w=None))
    assert any("given by hand" in said and "one of the two is wrong" in said for said in figures.said)


def test_powers_stay_in_the_panels_and_the_difference_does_not(files: tuple[str, str]) -> None:
    series = compared(files, OUT).series
    inside = (series.time_s >= 895) & (series.time_s < 1210)
    assert np.isfinite(series.unit_w[inside]).all()
    assert np.isnan(series.expected_w[inside]).all()
    assert np.isnan(series.difference_pct[inside]).all()


def test_most_of_a_ride_left_out_is_a_warning_and_all_of_it_no_answer(files: tuple[str, str]) -> None:
    most = compared(files, LeftOutStretch(from_s=0, to_s=1800, reason="another rider"))
    (notice,) = [one for one in most.notices if one.slug == "left_out_by_tester"]
    assert notice.severity is Severity.WARNING
    everything = compared(files, LeftOutStretch(from_s=0, to_s=9999, reason="wrong bike"))
    assert not everything.overall.bias_pct.assessed
    assert any("left out every second" in item.why for item in everything.not_assessed)
    assert [one.slug for one in everything.notices if one.slug == "left_out_by_tester"]


def test_overlapping_stretches_count_once(files: tuple[str, str]) -> None:
    halves = (replace(OUT, to_s=1100.0), replace(OUT, from_s=1000.0))
    assert compared(files, *halves).overall.bias_pct == compared(files, OUT).overall.bias_pct


def test_a_study_says_it_of_the_ride(files: tuple[str, str]) -> None:
    ride = ListedRide(name="monday", reference=files[0], unit=files[1], stretches_out=(OUT,))
    figures = figures_of(RideTask(ride=ride, settings=CompareSettings(), zones=SEVEN, threshold_w=None))
    assert figures.bias_pct == compared(files, OUT).overall.bias_pct
    assert any("the strap was loose" in said for said in figures.said)
    assert figures.stretches_out_s == ((OUT.from_s, OUT.to_s),)


def test_a_file_cut_short_is_said_of_the_ride(files: tuple[str, str], tmp_path: Path) -> None:
    content = Path(files[1]).read_bytes()
    (tmp_path / "bike.fit").write_bytes(content[: len(content) // 2])
    ride = ListedRide(name="monday", reference=files[0], unit=str(tmp_path / "bike.fit"))
    figures = figures_of(RideTask(ride=ride, settings=CompareSettings(), zones=SEVEN, threshold_w=None))
    assert figures.counts
    assert any(said.startswith("the unit’s file: ") and "ends" in said for said in figures.said)


def test_the_option_says_where_and_why() -> None:
    chosen = settings_from({"stretches_out": ("750:840.5=a  bottle",), "offsets_s": ()}).stretches_out
    assert chosen == (LeftOutStretch(from_s=750.0, to_s=840.5, reason="a bottle"),)


@pytest.mark.parametrize(
    "text", ["750:840", "840:750=x", "a:b=x", "1=x", "1:2:3=x", "nan:5=x", "0:inf=x", "-5:5=x", ""]
)
def test_a_stretch_that_makes_no_sense_is_refused(text: str) -> None:
    with pytest.raises(SettingInvalid):
        settings_from({"stretches_out": (text,), "offsets_s": ()})
