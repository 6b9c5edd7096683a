"""Every writer, against every promise that writers make, and read back by this project's own readers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.unit.writers.rides import START_UTC_S, awkward, with_channels
from wattwitness.model.errors import DateMissing, NoSamples, OutputExists, OutputNotWritable
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.readers.open import read_recordings
from wattwitness.readers.registry import READERS
from wattwitness.simulate.clocks import Clock, RecorderPause
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.meters import Dropouts, Meter, Sampling, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.writers.fit import write_fit
from wattwitness.writers.registry import WRITERS
from wattwitness.writers.writer import Writer

ALL = pytest.mark.parametrize("writer", list(WRITERS), ids=lambda writer: writer.name)
DATED = pytest.mark.parametrize("writer", [item for item in WRITERS if item.needs_date], ids=lambda writer: writer.name)


def simulated() -> Recording:
    """Ten minutes with every channel, a pause, losses, and a clock that is wrong."""
    meter = Meter(
        name="bike",
        gain=0.95,
        noise_pct=2.0,
        display=mean_of(3.0),
        dropouts=Dropouts(share=0.03),
        channels=tuple(channel for channel in ChannelName if channel is not ChannelName.RESISTANCE),
        clock=Clock(offset_s=12.4, drift_ppm=80.0, pauses=(RecorderPause(start_s=200.0, duration_s=45.0),)),
    )
    return simulate_ride(RideSpec(meters=(meter,), effort=GroupRide(), duration_s=600.0), 4).recordings[0]


def read_back(writer: Writer, recording: Recording, folder: Path) -> Recording:
    path = folder / f"ride{writer.suffix}"
    writer.write(recording, path)
    (found,) = read_recordings(path)
    assert found.source.format_name == writer.name
    return found


def test_what_can_be_written_can_be_read() -> None:
    assert set(WRITERS.names()) <= set(READERS.names())
    for writer in WRITERS:
        assert writer.suffix in READERS.get(writer.name).suffixes


@ALL
@pytest.mark.parametrize("make", [awkward, simulated])
def test_written_and_read_is_the_same_ride(writer: Writer, make: object, tmp_path: Path) -> None:
    assert callable(make)
    ride: Recording = make()
    found = read_back(writer, ride, tmp_path)
    assert found.dated
    np.testing.assert_array_equal(found.time_s, ride.time_s)
    assert set(found.channels) == set(ride.channels) & writer.channels
    for name, values in found.channels.items():
        np.testing.assert_allclose(values, ride.channels[name], atol=1e-6, err_msg=name)
    slugs = {notice.slug for notice in found.notices}
    assert slugs <= {"power_missing"}


@ALL
def test_missing_is_missing_and_coasting_is_zero(writer: Writer, tmp_path: Path) -> None:
    found = read_back(writer, awkward(), tmp_path).channels[ChannelName.POWER]
    assert np.flatnonzero(np.isnan(found)).tolist() == [0]
    assert np.flatnonzero(found == 0.0).tolist() == [12, 13]


@ALL
@pytest.mark.parametrize("step_s", [0.25, 1.26, 3.0])
def test_time_stamps_are_not_cut_beyond_what_the_format_holds(writer: Writer, step_s: float, tmp_path: Path) -> None:
    meter = Meter(name="bike", sampling=Sampling(step_s=step_s))
    ride = simulate_ride(RideSpec(meters=(meter,), effort=GroupRide(), duration_s=120.0), 4).recordings[0]
    found = read_back(writer, ride, tmp_path)
    if writer.step_s < step_s and writer.step_s < 1.0:
        np.testing.assert_allclose(found.time_s, ride.time_s, atol=1e-6)
        np.testing.assert_array_equal(found.channels[ChannelName.POWER], ride.channels[ChannelName.POWER])
        return
    nearest = [int(np.argmin(np.abs(ride.time_s - stamp))) for stamp in found.time_s]
    assert np.max(np.abs(ride.time_s[nearest] - found.time_s)) <= 0.5 + 1e-6
    np.testing.assert_array_equal(found.channels[ChannelName.POWER], ride.channels[ChannelName.POWER][nearest])


@ALL
def test_nothing_is_overwritten_unasked(writer: Writer, tmp_path: Path) -> None:
    path = tmp_path / "ride"
    path.write_bytes(b"a recording of somebody's")
    with pytest.raises(OutputExists):
        writer.write(awkward(), path)
    assert path.read_bytes() == b"a recording of somebody's"
    writer.write(awkward(), path, overwrite=True)
    assert path.read_bytes() != b"a recording of somebody's"
    assert [item.name for item in tmp_path.iterdir()] == ["ride"]


@ALL
def test_a_folder_that_is_not_there(writer: Writer, tmp_path: Path) -> None:
    with pytest.raises(OutputNotWritable):
        writer.write(awkward(), tmp_path / "none" / "ride")


@ALL
def test_nothing_measured_is_no_file(writer: Writer, tmp_path: Path) -> None:
    empty = with_channels(awkward(), {ChannelName.POWER: [np.nan] * 3})
    with pytest.raises(NoSamples):
        writer.write(empty, tmp_path / "ride")
    assert list(tmp_path.iterdir()) == []


@ALL
def test_same_recording_same_bytes(writer: Writer, tmp_path: Path) -> None:
    for name in ("a", "b"):
        writer.write(awkward(), tmp_path / name)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()


@DATED
def test_no_date_is_made_up(writer: Writer, tmp_path: Path) -> None:
    with pytest.raises(DateMissing):
        writer.write(awkward(dated=False), tmp_path / "ride")
    assert list(tmp_path.iterdir()) == []


@ALL
def test_a_stated_date_is_taken(writer: Writer, tmp_path: Path) -> None:
    writer.write(awkward(dated=False), tmp_path / "ride", start_utc_s=START_UTC_S)
    (found,) = read_recordings(tmp_path / "ride")
    assert found.dated
    np.testing.assert_array_equal(found.time_s, awkward().time_s)


def test_undated_stays_undated_in_csv(tmp_path: Path) -> None:
    found = read_back(WRITERS.get("csv"), awkward(dated=False), tmp_path)
    assert not found.dated
    np.testing.assert_array_equal(found.time_s, awkward(dated=False).time_s)


@ALL
def test_nothing_personal_is_written(writer: Writer, tmp_path: Path) -> None:
    from dataclasses import replace

    ride = awkward()
    writer.write(replace(ride, meter=replace(ride.meter, serial="SN-12345-67")), tmp_path / "ride")
    assert b"12345" not in (tmp_path / "ride").read_bytes()


def test_two_power_sources_in_one_file_are_two_recordings(tmp_path: Path) -> None:
    ride = with_channels(awkward(), {ChannelName.POWER: [100.0, 110.0, 120.0], ChannelName.CADENCE: [80.0, 81.0, 82.0]})
    write_fit(ride, tmp_path / "ride.fit", second_power_w=np.array([90.0, 99.0, np.nan]))
    first, second = read_recordings(tmp_path / "ride.fit")
    np.testing.assert_array_equal(first.channels[ChannelName.POWER], [100.0, 110.0, 120.0])
    np.testing.assert_array_equal(second.channels[ChannelName.POWER], [90.0, 99.0, np.nan])
