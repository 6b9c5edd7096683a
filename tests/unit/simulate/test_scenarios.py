"""Every scenario rides, and its files stand with their truth beside them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.errors import OutputExists, OutputNotWritable, UnknownName
from wattwitness.model.recording import ChannelName
from wattwitness.simulate.ride import simulate_ride
from wattwitness.simulate.scenarios import LABORATORY, SCENARIOS
from wattwitness.workflows.simulate import simulate_scenario


@pytest.mark.parametrize("name", SCENARIOS.names())
def test_every_scenario_rides(name: str) -> None:
    scenario = SCENARIOS.get(name)
    assert scenario.summary.endswith(".")
    for spec in scenario.rides:
        ride = simulate_ride(spec, 5)
        assert len(ride.recordings) == len(spec.meters) == len(ride.truth.units) + 1
        for recording in ride.recordings:
            assert recording.has(ChannelName.POWER)
            power_w = recording.channels[ChannelName.POWER]
            assert 80.0 < np.nanmean(power_w) < 320.0
            assert np.nanmax(power_w) < 1200.0
        for unit in ride.truth.units:
            assert unit.common_seconds > 0.9 * spec.duration_s
            assert abs(unit.bias_pct) < 12.0


def test_ride_names_are_unique() -> None:
    names = [spec.name for scenario in SCENARIOS for spec in scenario.rides if scenario.name != "laboratory"]
    assert len(names) == len(set(names))


def test_the_four_bikes_are_what_the_laboratory_finds() -> None:
    truths = [simulate_ride(spec, 1).truth.units[0] for spec in LABORATORY]
    good, low, falling, wrong = truths
    # Good but for the belt: 2.5 W + 1.2 % of power (status DER), half a percent of gain in its favour.
    assert good.bias_pct == pytest.approx(0.5 - 1.2 - 100 * 2.5 / 190.0, abs=0.5)
    assert low.bias_pct < good.bias_pct - 2.0
    assert [round(episode.end_s - episode.onset_s) for episode in falling.episodes] == [210, 95]
    assert falling.bias_without_faults_pct == pytest.approx(good.bias_pct, abs=0.1)
    assert wrong.bias_pct == pytest.approx(good.bias_pct + 100 * (165.0 / 172.5 - 1.0), abs=0.3)


def test_files_and_truth(tmp_path: Path) -> None:
    paths = simulate_scenario("three_meters", seed=3, folder=tmp_path / "new" / "folder", formats=("csv", "fit"))
    names = ["pedals.csv", "pedals.fit", "crank.csv", "crank.fit", "bike.csv", "bike.fit", "truth.json"]
    assert [path.name for path in paths] == names
    truth = json.loads(paths[-1].read_text())
    (ride,) = truth["rides"]
    assert (truth["scenario"], truth["seed"], ride["reference"]) == ("three_meters", 3, "pedals")
    assert ride["files"]["bike"] == ["bike.csv", "bike.fit"]
    crank, bike = ride["units"]
    assert crank["clock"]["offset_s"] == pytest.approx(2.3, abs=1e-3)
    assert bike["clock"]["drift_ppm"] == pytest.approx(15.0, abs=1e-3)
    assert bike["response"] == {"kind": "mean", "width_s": 3.0, "tau_s": 0.0, "delay_s": 1.0}
    # A gain of 1.2 %, less the pedals' zero of 0.05 to 0.09 N·m, which is 0.2 to 0.4 % of such an effort.
    assert crank["bias_pct"] == pytest.approx(0.9, abs=0.15)


def test_several_rides_keep_their_files_apart(tmp_path: Path) -> None:
    paths = simulate_scenario("four_bikes", seed=1, folder=tmp_path)
    assert len({path.name for path in paths}) == len(paths) == 9
    assert paths[2].name == "bike-b-pedals.fit"


def test_nothing_is_replaced_unasked(tmp_path: Path) -> None:
    first = simulate_scenario("ramp", seed=1, folder=tmp_path)
    before = first[0].read_bytes()
    with pytest.raises(OutputExists):
        simulate_scenario("ramp", seed=2, folder=tmp_path)
    assert first[0].read_bytes() == before
    simulate_scenario("ramp", seed=2, folder=tmp_path, replace=True)
    assert first[0].read_bytes() != before


def test_unknown_names_and_bad_folders(tmp_path: Path) -> None:
    with pytest.raises(UnknownName, match="scenario"):
        simulate_scenario("moon", seed=1, folder=tmp_path)
    with pytest.raises(UnknownName, match="format"):
        simulate_scenario("ramp", seed=1, folder=tmp_path, formats=("doc",))
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputNotWritable):
        simulate_scenario("ramp", seed=1, folder=tmp_path / "file" / "below")
