"""Corrected copies: by the physics, marked inside, and the original as it was."""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

import fitdecode
import numpy as np
import pytest

from wattwitness.cli.main import run
from wattwitness.model.errors import CorrectionInvalid, OutputExists
from wattwitness.model.recording import ChannelName, Recording, Source
from wattwitness.model.ride_list import ListedRide
from wattwitness.model.settings import CompareSettings
from wattwitness.readers.open import read_one, read_recordings
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.study.corrected import corrected_power, corrected_torque
from wattwitness.workflows.correct import correction_by_hand, correction_of_study, write_corrected_copy
from wattwitness.workflows.one_ride import RideTask, figures_of
from wattwitness.workflows.pairing import propose_rides
from wattwitness.workflows.simulate import simulate_scenario
from wattwitness.writers.csv_table import CsvTable, TimeColumn, write_csv
from wattwitness.writers.fit import write_fit

Capture = pytest.CaptureFixture[str]
GAIN, ZERO_NM = 0.94, 1.5
POWER, CADENCE = ChannelName.POWER, ChannelName.CADENCE


def ride() -> tuple[Recording, np.ndarray[Any, np.dtype[np.float64]]]:
    """A unit with a gain and a zero, and the true power; a few seconds of coasting and of no sample."""
    rng = np.random.default_rng(1)
    cadence = np.round(rng.uniform(60, 100, 600))
    true = rng.uniform(80, 300, 600)
    shown = GAIN * true + ZERO_NM * 2 * math.pi * cadence / 60
    shown[50:55] = true[50:55] = 0
    shown[100] = np.nan
    cadence[200:203] = np.nan
    source = Source(file_name="bike.csv", sha256="0" * 64, size_bytes=1, format_name="csv")
    channels = {POWER: shown, CADENCE: cadence}
    return Recording(source=source, time_s=1.76e9 + np.arange(600.0), dated=True, channels=channels), true


@pytest.fixture
def bike(tmp_path: Path) -> Path:
    path = tmp_path / "bike.csv"
    write_csv(ride()[0], path)
    return path


def study(folder: Path, **correction: Any) -> Path:
    usual = {
        "best": "gain_and_zero",
        "correctable": True,
        "says": "It can be corrected.",
        "tried": [
            {"model": "gain", "gain": 0.99, "zero_nm": 0.0},
            {"model": "gain_and_zero", "gain": GAIN, "zero_nm": ZERO_NM},
        ],
    }
    path = folder / "study.json"
    path.write_text(json.dumps({"version": "9.9", "unit": "studio bike B", "correction": {**usual, **correction}}))
    return path


def test_gain_and_zero_are_taken_out_again() -> None:
    recording, true = ride()
    found = corrected_power(recording.channels[POWER], recording.channels[CADENCE], gain=GAIN, zero_nm=ZERO_NM)
    known = np.isfinite(found.power_w)
    assert found.power_w[known] == pytest.approx(true[known], abs=1e-9)
    assert np.flatnonzero(~known).tolist() == [100, 200, 201, 202]
    assert (found.lost, found.cut) == (3, 0)


def test_coasting_stays_zero_and_nothing_falls_below_it() -> None:
    found = corrected_power(np.array([0.0, 5.0, 200.0]), np.array([80.0, 80.0, 80.0]), gain=1.0, zero_nm=2.0)
    assert found.power_w.tolist() == pytest.approx([0.0, 0.0, 200 - 2 * 2 * math.pi * 80 / 60])
    assert found.cut == 1
    assert corrected_torque(np.array([0.0, 1.0, 20.0]), gain=1.0, zero_nm=2.0).tolist() == [0.0, 0.0, 18.0]


def test_a_gain_needs_no_cadence_and_a_zero_does() -> None:
    assert corrected_power(np.array([94.0]), None, gain=0.94, zero_nm=0.0).power_w[0] == pytest.approx(100)
    with pytest.raises(ValueError, match="without cadence"):
        corrected_power(np.array([94.0]), None, gain=0.94, zero_nm=1.0)


@pytest.mark.parametrize("suffix", [".csv", ".fit"])
def test_the_copy_says_what_it_is_and_reads_as_the_truth(suffix: str, bike: Path, tmp_path: Path) -> None:
    before = bike.read_bytes()
    out = tmp_path / f"copy{suffix}"
    report = write_corrected_copy(str(bike), out, correction_of_study(study(tmp_path)))
    assert bike.read_bytes() == before
    assert report.original_sha256 == hashlib.sha256(before).hexdigest()
    (copy,) = read_recordings(out)
    assert "corrected_copy" in [notice.slug for notice in copy.notices]
    assert all(notice.slug != "corrected_copy" for notice in read_one(bike).notices)
    _, true = ride()
    found = copy.channels[POWER]
    known = np.isfinite(found)
    assert known.sum() == 596
    assert found[known] == pytest.approx(true[known], abs=0.01 if suffix == ".csv" else 0.51)
    inside = out.read_bytes().decode("utf-8", "replace")
    assert "corrected copy 1" in inside
    assert hashlib.sha256(before).hexdigest() in inside
    assert "study of studio bike B by wattwitness 9.9" in inside
    assert "0.94" in inside
    assert "1.5 N·m" in inside


def test_another_decoder_reads_the_remarks_of_the_fit_copy(bike: Path, tmp_path: Path) -> None:
    out = tmp_path / "copy.fit"
    write_corrected_copy(str(bike), out, correction_by_hand(0.94, 0.0))
    with fitdecode.FitReader(str(out), check_crc=fitdecode.CrcCheck.RAISE) as reader:
        devices = [
            frame for frame in reader if isinstance(frame, fitdecode.FitDataMessage) and frame.name == "device_info"
        ]
    texts = [frame.get_value("descriptor", fallback=None) for frame in devices]
    assert any(text and text.startswith("corrected copy 1") for text in texts)
    assert any(text and text.startswith("original: SHA-256") for text in texts)
    assert devices[0].get_value("product_name") == "(corrected)"


def test_a_copy_is_not_corrected_again_and_never_written_over_its_original(bike: Path, tmp_path: Path) -> None:
    out, applied = tmp_path / "copy.csv", correction_by_hand(0.94, 0.0)
    write_corrected_copy(str(bike), out, applied)
    with pytest.raises(CorrectionInvalid, match="already"):
        write_corrected_copy(str(out), tmp_path / "again.csv", applied)
    link = tmp_path / "link.csv"
    link.symlink_to(bike)
    before = bike.read_bytes()
    for target in (bike, link, tmp_path / "." / "bike.csv"):
        with pytest.raises(OutputExists):
            write_corrected_copy(str(bike), target, applied, replace=True)
    with pytest.raises(OutputExists):
        write_corrected_copy(str(bike), out, applied)
    assert bike.read_bytes() == before


def test_the_mark_is_no_word_in_a_cell(tmp_path: Path) -> None:
    path = tmp_path / "notes.csv"
    path.write_text('time,power,notes\n0,100,"corrected copy 1: no"\n1,101,# corrected copy 1:\n2,102,x\n3,99,y\n')
    assert "corrected_copy" not in [notice.slug for notice in read_one(path).notices]


@pytest.mark.parametrize(
    "wrong",
    [
        {"best": None},
        {"best": "none"},
        {"correctable": False},
        {"tried": []},
        {"tried": [{"model": "gain_and_zero", "gain": "x", "zero_nm": 0}]},
        {"tried": [{"model": "gain_and_zero", "gain": 0.0, "zero_nm": 0.0}]},
        {"tried": [{"model": "gain_and_zero", "gain": float("nan"), "zero_nm": 0.0}]},
        {"tried": 3},
    ],
)
def test_a_study_without_a_correction_corrects_nothing(wrong: dict[str, Any], tmp_path: Path) -> None:
    with pytest.raises(CorrectionInvalid):
        correction_of_study(study(tmp_path, **wrong))


def test_the_study_is_never_written_over(bike: Path, tmp_path: Path) -> None:
    path = study(tmp_path).rename(tmp_path / "study.csv")
    before = path.read_bytes()
    assert run(["correct", str(path), str(bike), "--out", str(path), "--replace"]) == 2
    assert path.read_bytes() == before


@pytest.mark.parametrize("text", ["", "x", "[]", "{}", '{"correction": 3}', "[" * 100_000])
def test_what_is_no_study_is_refused_in_words(text: str, bike: Path, tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "study.json"
    path.write_text(text)
    assert run(["correct", str(path), str(bike), "--out", str(tmp_path / "copy.csv")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("error: ")
    assert "fault of wattwitness" not in said
    assert not (tmp_path / "copy.csv").exists()


def test_settling_is_said_to_hold_only_once_settled(bike: Path, tmp_path: Path) -> None:
    path = study(tmp_path, best="with_settling", tried=[{"model": "with_settling", "gain": 0.95, "zero_nm": 0.0}])
    applied = correction_of_study(path)
    assert "settled" in applied.holds
    write_corrected_copy(str(bike), tmp_path / "copy.csv", applied)
    assert "once the unit has settled" in (tmp_path / "copy.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize(("gain", "zero"), [(1.0, 0.0), (0.0, 0.0), (-1.0, 0.0), (math.nan, 1.0), (0.9, math.inf)])
def test_a_correction_that_cannot_be_is_refused(gain: float, zero: float) -> None:
    with pytest.raises(CorrectionInvalid):
        correction_by_hand(gain, zero)


def test_what_cannot_be_corrected_is_refused(tmp_path: Path) -> None:
    whole, _ = ride()
    for kept, applied in ((CADENCE, correction_by_hand(0.9, 0.0)), (POWER, correction_by_hand(1.0, 1.0))):
        path = tmp_path / f"{kept}.csv"
        one = Recording(
            source=whole.source, time_s=whole.time_s, dated=True, channels={kept: np.nan_to_num(whole.channels[kept])}
        )
        write_csv(one, path)
        with pytest.raises(CorrectionInvalid):
            write_corrected_copy(str(path), tmp_path / "copy.csv", applied)
    with pytest.raises(Exception, match="CSV or FIT"):
        write_corrected_copy(str(tmp_path / f"{POWER}.csv"), tmp_path / "copy.gpx", correction_by_hand(0.9, 0.0))


def test_undated_and_paused_recordings_are_copied_too(tmp_path: Path) -> None:
    recording, _ = ride()
    path = tmp_path / "bike.csv"
    write_csv(recording, path, table=CsvTable(time=TimeColumn.ELAPSED_S))
    write_corrected_copy(str(path), tmp_path / "copy.csv", correction_by_hand(0.94, 0.0))
    assert not read_one(tmp_path / "copy.csv").dated
    write_fit(recording, tmp_path / "bike.fit")
    write_corrected_copy(str(tmp_path / "bike.fit"), tmp_path / "copy.fit", correction_by_hand(0.94, 0.0))
    assert read_one(tmp_path / "copy.fit").time_s.tolist() == read_one(tmp_path / "bike.fit").time_s.tolist()


def test_a_study_leaves_corrected_copies_aside(tmp_path: Path) -> None:
    """Neither a folder nor a list takes one for what the meter showed."""
    simulate_scenario("laboratory", seed=1, folder=tmp_path, formats=("fit",))
    for path in tmp_path.iterdir():
        if path.name not in ("pedals.fit", "bike.fit"):
            path.unlink()
    copy = tmp_path / "bike-corrected.fit"
    write_corrected_copy(str(tmp_path / "bike.fit"), copy, correction_by_hand(0.97, 0.0))
    proposal = propose_rides(tmp_path)
    assert [Path(ride.unit).name for ride in proposal.rides] == ["bike.fit"]
    assert [(Path(file).name, "corrected copy" in why) for file, why in proposal.unused] == [(copy.name, True)]
    ride = ListedRide(name="Monday", reference=str(tmp_path / "pedals.fit"), unit=str(copy))
    figures = figures_of(RideTask(ride=ride, settings=CompareSettings(), zones=SEVEN, threshold_w=None))
    assert not figures.counts
    assert figures.left_out == "correction_invalid"
    assert "corrected copy" in figures.left_out_why


def test_a_comparison_warns_and_finds_the_bias_gone(tmp_path: Path, capsys: Capture) -> None:
    """From a study bike with a known bias: what is left is what the correction does not know."""
    simulate_scenario("laboratory", seed=1, folder=tmp_path, formats=("fit",))
    pedals, bike = tmp_path / "pedals.fit", tmp_path / "bike.fit"
    assert run(["compare", str(pedals), str(bike), "--format", "json", "--quiet"]) == 0
    gain = 1 + json.loads(capsys.readouterr().out)["bias_pct"]["value"] / 100
    copy = tmp_path / "copy.fit"
    assert run(["correct", str(bike), "--gain", str(gain), "--out", str(copy)]) == 0
    assert "The original is as it was" in capsys.readouterr().out
    assert run(["compare", str(pedals), str(copy), "--format", "json", "--quiet"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert abs(found["bias_pct"]["value"]) < 0.15
    assert run(["compare", str(pedals), str(copy), "--quiet"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "copy.fit is a corrected copy: its power is not what the meter showed" in text[:600]
