"""A unit that shows nothing for most of a ride, or all of it, is at fault; and no meter reads more than 100 % low."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.episodes import EpisodeKind, Finding
from wattwitness.model.recording import ChannelName
from wattwitness.model.ride_list import ListedRide
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.sections.statement import statement_of
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.scenarios import BIKE, PEDALS
from wattwitness.study.ride_figures import RideNotes, figures_of_ride
from wattwitness.workflows.alone import alone_recording
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.matching import match_ride


def recordings(start_s: float, seconds: float) -> tuple[object, ...]:
    dead = Fault(kind=FaultKind.ZERO, start_s=start_s, duration_s=seconds)
    spec = RideSpec(
        name="x", meters=(PEDALS, replace(BIKE, faults=(dead,))), effort=GroupRide(mean_w=190.0), duration_s=2400.0
    )
    return simulate_ride(spec, 10).recordings


@pytest.mark.parametrize(("start_s", "seconds"), [(400.0, 1500.0), (300.0, 2200.0), (0.0, 2500.0)])
def test_zeros_for_most_of_the_ride(start_s: float, seconds: float) -> None:
    pair = compare_recordings(recordings(start_s, seconds), CompareSettings()).pairs[0]  # type: ignore[arg-type]
    assert pair.faults is not None
    own = [one for one in pair.faults.episodes if one.kind is EpisodeKind.ZEROS and one.finding is Finding.UNIT]
    assert sum(one.duration_s for one in own) > 0.6 * min(seconds, 2400.0 - start_s)
    for estimate in (pair.overall.bias_pct, pair.overall.bias_with_reference_pct):
        assert estimate.low is None or estimate.low >= -100.0


def test_zeros_all_ride_are_one_episode_no_defect_and_no_ride_of_a_study() -> None:
    """What a recording cannot tell from a sensor that was never paired is put down to nobody's defect."""
    pair = compare_recordings(recordings(0.0, 2500.0), CompareSettings()).pairs[0]  # type: ignore[arg-type]
    assert pair.faults is not None
    assert [one.kind for one in pair.faults.episodes] == [EpisodeKind.ZEROS]
    assert pair.unit.one_power_w == 0.0
    assert pair.reference.one_power_w is None
    assert not statement_of(pair, "pedals", "bike").defect
    assert figures_of_ride(pair, RideNotes(name="dead")).left_out == "one_number"


def test_no_range_of_bias_over_offsets_is_given_for_one_number() -> None:
    """Without cadence no offset fits a power that never moves any better than another."""
    bare = [
        replace(one, channels={ChannelName.POWER: one.channels[ChannelName.POWER]})  # type: ignore[type-var,attr-defined]
        for one in recordings(0.0, 2500.0)
    ]
    pair = compare_recordings(bare, CompareSettings()).pairs[0]  # type: ignore[arg-type]
    assert not pair.clock.status.usable
    assert pair.offset_range is None
    assert "shows 0 W in every sample" in pair.clock.reason


def test_a_proposed_ride_of_one_number_says_so_before_it_is_kept(tmp_path: Path) -> None:
    """Not that the efforts match at several offsets."""
    levels = np.repeat(np.random.default_rng(2).uniform(120, 280, 40), 45)
    for name, power in (("reference", levels), ("unit", np.zeros(levels.size))):
        lines = [f"{second},{watts:.0f}" for second, watts in enumerate(power)]
        (tmp_path / f"{name}.csv").write_text("\n".join(["time_s,power_w", *lines]) + "\n")
    files = [str(tmp_path / f"{name}.csv") for name in ("reference", "unit")]
    match = match_ride(ListedRide(name="x", reference=files[0], unit=files[1]))
    assert match.says.startswith("The unit shows 0 W in every sample. Most likely its power was never recorded")


@pytest.mark.parametrize("shown_w", [0.0, 250.0])
def test_one_number_for_a_whole_ride_alone(shown_w: float) -> None:
    whole = simulate_ride(RideSpec(name="x", meters=(BIKE,), effort=GroupRide(mean_w=190.0), duration_s=2400.0), 10)
    recording = whole.recordings[0]
    power = np.full(recording.time_s.size, shown_w)
    held = replace(recording, channels={**recording.channels, ChannelName.POWER: power})
    report = alone_recording(held, AloneSettings())
    kinds = {one.kind for one in report.episodes}
    assert (EpisodeKind.FROZEN if shown_w else EpisodeKind.ZEROS) in kinds
    assert all(one.finding is not Finding.RIDER for one in report.episodes)
