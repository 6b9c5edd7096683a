"""Whether two recordings hold one effort is asked before a ride is kept, and finds rides that clocks and names hide."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from wattwitness.bench.catalogue import catalogue, new_bench
from wattwitness.bench.rides import rides_of
from wattwitness.cli.bench import bench as commands
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName
from wattwitness.model.ride_list import ListedRide
from wattwitness.readers.open import read_one
from wattwitness.simulate.clocks import Clock
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.ride import RideSpec
from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario
from wattwitness.workflows.bench_changes import meters_on
from wattwitness.workflows.matching import match_ride, match_rides
from wattwitness.workflows.pairing import propose_rides
from wattwitness.workflows.simulate import write_scenario

HOUR_S = 3600.0


@pytest.fixture(scope="module")
def rides(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """One ride of twenty minutes by three: pedals, a bike whose clock is right, one whose clock is hours off; and the
    pedals of another ride at the same time of day.
    """
    folder = tmp_path_factory.mktemp("rides")
    far = replace(BIKE, name="far", clock=Clock(offset_s=-5 * HOUR_S))
    hub = replace(BIKE, name="hub", gain=0.99, record=replace(BIKE.record, product="rear hub"))
    spec = RideSpec(meters=(PEDALS, BIKE, far, hub), effort=GroupRide(mean_w=190.0), duration_s=1200.0)
    paths = write_scenario(Scenario(name="one", summary="One.", rides=(spec,)), seed=4, folder=folder / "one")
    other = replace(spec, meters=(PEDALS,))
    again = write_scenario(Scenario(name="two", summary="Two.", rides=(other,)), seed=77, folder=folder / "two")
    return {"pedals": paths[0], "bike": paths[1], "far": paths[2], "hub": paths[3], "other": again[0]}


def ride(reference: Path, unit: Path) -> ListedRide:
    return ListedRide(name="ride", reference=str(reference), unit=str(unit))


def test_one_effort_is_said_with_the_clocks(rides: dict[str, Path]) -> None:
    match = match_ride(ride(rides["pedals"], rides["bike"]))
    assert match.status in (ClockStatus.FOUND, ClockStatus.FOUND_WITH_DELAY)
    assert not match.doubtful
    assert match.says.startswith("The efforts match")
    assert all(match.wrote)


def test_two_efforts_are_doubtful_though_the_times_agree(rides: dict[str, Path]) -> None:
    match = match_ride(ride(rides["other"], rides["bike"]))
    assert match.doubtful
    assert "do not match" in match.says


def test_two_exports_of_one_recording_are_no_ride(rides: dict[str, Path]) -> None:
    assert match_ride(ride(rides["bike"], rides["bike"])).status is ClockStatus.SAME_SOURCE


def test_a_file_that_cannot_be_read_is_said_and_the_others_go_on(rides: dict[str, Path], tmp_path: Path) -> None:
    (tmp_path / "bad.fit").write_bytes(b"nothing")
    first, second = match_rides([ride(rides["pedals"], tmp_path / "bad.fit"), ride(rides["pedals"], rides["bike"])])
    assert first.doubtful
    assert "cannot be read" in first.says
    assert not second.doubtful


def test_a_ride_is_found_by_its_effort_where_clock_and_name_mislead(rides: dict[str, Path], tmp_path: Path) -> None:
    shutil.copy(rides["pedals"], tmp_path / "Pedals of Monday.fit")
    shutil.copy(rides["far"], tmp_path / "export 17.fit")
    (proposed,) = propose_rides(tmp_path).rides
    assert Path(proposed.reference).name == "Pedals of Monday.fit"
    assert Path(proposed.unit).name == "export 17.fit"


def test_lone_recordings_of_different_rides_stay_alone(rides: dict[str, Path], tmp_path: Path) -> None:
    shutil.copy(rides["pedals"], tmp_path / "pedals monday.fit")
    shutil.copy(rides["bike"], tmp_path / "bike monday.fit")
    (tmp_path / "later").mkdir()
    shutil.copy(rides["far"], tmp_path / "later" / "export.fit")
    proposal = propose_rides(tmp_path)
    assert len(proposal.rides) == 1
    assert [Path(file).name for file, _ in proposal.unused] == ["export.fit"]


def test_the_bench_keeps_what_matches_and_which_meter_wrote_it(rides: dict[str, Path], tmp_path: Path) -> None:
    files = tmp_path / "files"
    for name, pair in {"good": ("pedals", "bike"), "mixed up": ("other", "bike")}.items():
        (files / name).mkdir(parents=True)
        for role, source in zip(("pedals", "bike"), pair, strict=True):
            # Two copies of one file count once; another ending of the bytes makes it another file of the same ride.
            content = rides[source].read_bytes()
            (files / name / f"{role} {name}.fit").write_bytes(content)
    new_bench(tmp_path / "bench")
    lines = []
    for folder in sorted(files.iterdir()):
        result = CliRunner().invoke(
            commands, ["add", str(tmp_path / "bench"), str(folder), "--confirm", "--quiet", "--name", "bike A"]
        )
        assert result.exit_code == 0, result.output
        lines.append(result.output)
    assert "The efforts match" in lines[0]
    assert lines[1].startswith("not kept: ")
    with catalogue(tmp_path / "bench") as connection:
        (kept,) = rides_of(connection, tmp_path / "bench")
    meters = {meter.id: meter for meter in meters_on(tmp_path / "bench")}
    assert kept.reference_meter_id in meters
    assert any(meter.units == ("bike A",) for meter in meters.values())


def test_three_meters_give_a_ride_for_each_unit(rides: dict[str, Path], tmp_path: Path) -> None:
    files = tmp_path / "files"
    files.mkdir()
    for name in ("pedals", "bike", "hub"):
        shutil.copy(rides[name], files / f"monday {name}.fit")
    new_bench(tmp_path / "bench")
    result = CliRunner().invoke(commands, ["add", str(tmp_path / "bench"), str(files), "--confirm", "--quiet"])
    assert result.exit_code == 0, result.output
    with catalogue(tmp_path / "bench") as connection:
        kept = rides_of(connection, tmp_path / "bench")
    assert len(kept) == 2
    assert len({one.unit for one in kept}) == 2
    assert len({one.files["reference"].sha256 for one in kept}) == 1


def without_date(source: Path, target: Path) -> None:
    """A recording as a table without a date, whose name alone says where it belongs."""
    recording = read_one(source)
    power = recording.channels[ChannelName.POWER]
    lines = [f"{at - recording.time_s[0]:.0f},{watts:.0f}" for at, watts in zip(recording.time_s, power, strict=True)]
    target.write_text("time_s,power_w\n" + "\n".join(lines))


def test_names_in_other_alphabets_tell_rides_apart(rides: dict[str, Path], tmp_path: Path) -> None:
    for day, source in {"вторник": "bike", "среда": "other"}.items():
        for role, sort in (("reference", "pedals" if source == "bike" else "other"), ("bike", source)):
            without_date(rides[sort], tmp_path / f"{day} {role}.csv")
    proposal = propose_rides(tmp_path)
    assert {Path(one.reference).name.split()[0] for one in proposal.rides} >= {"вторник"}
    assert all(Path(a.reference).name.split()[0] == Path(a.unit).name.split()[0] for a in proposal.rides)
