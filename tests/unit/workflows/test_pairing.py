"""Which recordings of a folder belong together: by time, by folder, by name; and a question where that is not clear."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wattwitness.model.errors import FileMissing, RidesUnclear
from wattwitness.readers.open import read_recordings
from wattwitness.workflows.pairing import FoundRecording, group_recordings, propose_rides
from wattwitness.writers.fit import write_fit


def found(
    stem: str, start_s: float | None = None, *, length_s: float = 3600.0, folder: str = ".", meter: str = ""
) -> FoundRecording:
    return FoundRecording(
        argument=f"{folder}/{stem}.fit",
        stem=stem,
        folder=folder,
        start_s=start_s,
        end_s=None if start_s is None else start_s + length_s,
        meter=meter,
        sha256=f"{folder}{stem}",
    )


def stems(groups: list[list[FoundRecording]]) -> list[list[str]]:
    return [sorted(one.stem for one in group) for group in groups]


def test_dated_recordings_belong_together_when_they_overlap() -> None:
    rides = [found("a", 0.0), found("b", 40.0), found("c", 90_000.0), found("d", 89_970.0)]
    assert stems(group_recordings(rides)) == [["a", "b"], ["c", "d"]]


def test_undated_ones_by_their_names() -> None:
    names = ["ride01_ref", "ride01_bike", "ride2-ref", "ride02-bike"]
    assert stems(group_recordings([found(name) for name in names])) == [
        ["ride01_bike", "ride01_ref"],
        ["ride02-bike", "ride2-ref"],
    ]
    days = ["monday pedals", "monday bike", "tuesday pedals", "tuesday bike"]
    assert stems(group_recordings([found(name) for name in days])) == [days[1::-1], days[:1:-1]]


def test_a_folder_of_two_is_a_ride() -> None:
    rides = [found("x", folder="mon"), found("y", folder="mon"), found("x", folder="tue"), found("y", folder="tue")]
    assert [len(group) for group in group_recordings(rides)] == [2, 2]


def test_a_clock_hours_off_leaves_the_names() -> None:
    """One recorder's clock was never set: times do not overlap, names are alike."""
    rides = [
        found("ride1-pedals", 1e9),
        found("ride1-bike", 5e8),
        found("ride2-pedals", 1e9 + 86400),
        found("ride2-bike", 5e8 + 86400),
    ]
    assert stems(group_recordings(rides)) == [["ride1-bike", "ride1-pedals"], ["ride2-bike", "ride2-pedals"]]


def test_two_copies_of_a_file_are_one_recording() -> None:
    first = found("a", 0.0)
    assert stems(group_recordings([first, replace(first, argument="./copy.fit", stem="copy"), found("b", 5.0)])) == [
        ["a", "b"]
    ]


def write(folder: Path, name: str, level: float = 200.0) -> None:
    lines = ["seconds,power,cadence", *(f"{second},{level + second % 7},85" for second in range(120))]
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_a_folder_is_proposed_and_the_rest_named(tmp_path: Path) -> None:
    for name in ("ride1-pedals.csv", "ride1-bike.csv", "ride2-pedals.csv", "ride2-bike.csv", "ride3-bike.csv"):
        write(tmp_path, name, 200.0 + len(name) + ord(name[4]) + ord(name[6]))
    (tmp_path / "notes.txt").write_text("dear diary", encoding="utf-8")
    proposal = propose_rides(tmp_path)
    assert [Path(ride.reference).name for ride in proposal.rides] == ["ride1-pedals.csv", "ride2-pedals.csv"]
    assert [Path(ride.unit).name for ride in proposal.rides] == ["ride1-bike.csv", "ride2-bike.csv"]
    assert [ride.name for ride in proposal.rides] == ["ride1", "ride2"]
    assert {Path(name).name for name, _ in proposal.unused} == {"notes.txt", "ride3-bike.csv"}
    other = propose_rides(tmp_path, reference="bike")
    assert Path(other.rides[0].reference).name == "ride1-bike.csv"


def test_what_is_not_clear_is_asked(tmp_path: Path) -> None:
    with pytest.raises(FileMissing):
        propose_rides(tmp_path / "none")
    with pytest.raises(RidesUnclear, match="No two recordings"):
        propose_rides(tmp_path)
    write(tmp_path, "1-alpha.csv", 200.0)
    write(tmp_path, "1-beta.csv", 210.0)
    with pytest.raises(RidesUnclear) as caught:
        propose_rides(tmp_path, reference="gamma")
    assert "none is the reference" in caught.value.what
    assert "--reference" in caught.value.hint


def ride_file(path: Path, seed: int, *, scale: float = 1.0) -> None:
    """Ten minutes of power in whole watts, one ride a day; files of one seed hold the same ride."""
    watts = np.random.default_rng(seed).uniform(100, 300, 600) * scale
    rows = [f"2026-01-{seed:02d}T10:{k // 60:02d}:{k % 60:02d}Z,{w:.0f}" for k, w in enumerate(watts)]
    path.write_text("\n".join(["timestamp,power", *rows]) + "\n")


def test_an_export_in_another_format_is_no_third_meter(tmp_path: Path) -> None:
    ride_file(tmp_path / "ride1-pedals.csv", 1)
    ride_file(tmp_path / "ride1-bike.csv", 1, scale=0.9)
    write_fit(read_recordings(tmp_path / "ride1-bike.csv")[0], tmp_path / "ride1-bike.fit")
    found = propose_rides(tmp_path)
    assert [Path(ride.unit).name for ride in found.rides] == ["ride1-bike.fit"]
    assert [(Path(file).name, why) for file, why in found.unused] == [
        ("ride1-bike.csv", "another export of a recording that is there already")
    ]


def test_an_unclear_ride_does_not_keep_the_others_from_an_answer(tmp_path: Path) -> None:
    for seed in (1, 2):
        ride_file(tmp_path / f"ride{seed}-pedals.csv", seed)
        ride_file(tmp_path / f"ride{seed}-bike.csv", seed, scale=0.9)
    ride_file(tmp_path / "ride2-console.csv", 2, scale=1.1)
    found = propose_rides(tmp_path)
    assert [ride.name for ride in found.rides] == ["ride1"]
    assert len(found.unused) == 3
    assert all("2 units" in why and "--unit" in why for _, why in found.unused)
    assert len(propose_rides(tmp_path, unit="bike").rides) == 2


def test_copies_named_as_two_meters_stay_a_pair_for_the_comparison_to_refuse(tmp_path: Path) -> None:
    for name in ("ride1-pedals", "ride1-bike"):
        ride_file(tmp_path / f"{name}.csv", 1)
    write_fit(read_recordings(tmp_path / "ride1-bike.csv")[0], tmp_path / "ride1-bike.fit")
    (tmp_path / "ride1-bike.csv").unlink()
    assert len(propose_rides(tmp_path).rides) == 1
