"""One recording alone: a change of behaviour is found, a constant error is not claimed, nothing measured is no pass."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from tests.truth.alone_rides import MadeBike
from wattwitness.cli.main import run
from wattwitness.model.alone import AloneReport, Yardstick
from wattwitness.model.episodes import Episode, EpisodeKind, Finding
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.settings import AloneSettings
from wattwitness.render.alone_json import alone_schema, alone_text
from wattwitness.simulate.efforts import Intervals, Steady
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import USUAL_CHANNELS, Meter, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.workflows.alone import alone_recording
from wattwitness.writers.fit import write_fit

DROP = Fault(kind=FaultKind.DROP, start_s=1200.0, duration_s=60.0, depth_pct=-25.0, edge_s=2.0)
LONG = Intervals(on_s=300.0, off_s=180.0, on_w=240.0, off_w=130.0)
ALL = (*USUAL_CHANNELS, ChannelName.RESISTANCE)


def recorded(
    *faults: Fault, channels: tuple[ChannelName, ...] = ALL, gain: float = 1.0, effort: Intervals | Steady = LONG
) -> Recording:
    bike = Meter(name="bike", noise_pct=1.0, gain=gain, display=mean_of(3.0), channels=channels, faults=faults)
    spec = RideSpec(name="alone", meters=(bike,), effort=effort, bike=MadeBike(make="magnet"), duration_s=2400.0)
    return simulate_ride(spec, 6).recordings[0]


def looked_at(recording: Recording) -> AloneReport:
    report = alone_recording(recording, AloneSettings())
    jsonschema.validate(json.loads(alone_text(report)), alone_schema())
    return report


def near(report: AloneReport, start_s: float) -> list[Episode]:
    return [one for one in report.episodes if abs(one.start_s - start_s) < 15]


def without(recording: Recording, *names: ChannelName) -> Recording:
    kept = {name: values for name, values in recording.channels.items() if name not in names}
    return replace(recording, channels=kept)


def test_a_drop_against_its_own_surface() -> None:
    report = looked_at(recorded(DROP))
    assert report.surface.yardstick is Yardstick.CADENCE_AND_RESISTANCE
    (drop,) = near(report, 1200.0)
    assert drop.kind is EpisodeKind.DROP
    assert drop.depth_pct.value == pytest.approx(-25.0, abs=3.0)
    assert drop.finding in (Finding.UNIT, Finding.UNDETERMINED)
    assert drop.energy_kj.value is not None
    assert drop.energy_kj.value > 0


def test_a_clean_ride_has_none_and_a_constant_error_is_not_seen() -> None:
    for gain in (1.0, 0.9):
        report = looked_at(recorded(gain=gain))
        assert [one for one in report.episodes if one.finding is not Finding.RIDER] == []
        assert "borrow_a_meter" in report.wanting


@pytest.mark.parametrize(
    "fault",
    [
        Fault(kind=FaultKind.FROZEN, start_s=1290.0, duration_s=90.0),
        Fault(kind=FaultKind.MISSING, start_s=1290.0, duration_s=60.0),
        Fault(kind=FaultKind.ZERO, start_s=1290.0, duration_s=20.0),
        Fault(kind=FaultKind.SPIKE, start_s=1290.0, duration_s=1.0),
    ],
    ids=lambda fault: fault.kind.value,
)
def test_what_the_samples_show_by_themselves(fault: Fault) -> None:
    kinds = {FaultKind.ZERO: EpisodeKind.ZEROS}
    report = looked_at(recorded(fault))
    expected = kinds.get(fault.kind, EpisodeKind(fault.kind.value) if fault.kind is not FaultKind.ZERO else None)
    found = [one for one in near(report, fault.start_s) if one.kind is expected]
    assert found
    assert found[0].finding is Finding.UNIT


def test_less_logged_is_less_told_and_said() -> None:
    whole = recorded(DROP)
    cadence_only = looked_at(without(whole, ChannelName.RESISTANCE))
    power_only = looked_at(without(whole, ChannelName.RESISTANCE, ChannelName.CADENCE, ChannelName.HEART_RATE))
    assert "log_resistance" in cadence_only.wanting
    assert power_only.surface.yardstick is Yardstick.PLATEAUS
    assert power_only.wanting[:2] == ("log_cadence", "log_resistance")
    assert power_only.channels == ()
    for report in (cadence_only, power_only):
        assert all(one.finding is not Finding.UNIT for one in report.episodes)


def test_no_power_and_next_to_none() -> None:
    whole = recorded()
    none = looked_at(without(whole, ChannelName.POWER))
    assert none.mean_w is None
    assert none.surface.yardstick is Yardstick.NOTHING
    assert none.episodes == ()
    zeros = replace(whole, channels={**whole.channels, ChannelName.POWER: np.zeros(whole.time_s.size)})
    assert looked_at(zeros).mean_w == 0.0
    short = replace(
        whole, time_s=whole.time_s[:60], channels={name: values[:60] for name, values in whole.channels.items()}
    )
    assert looked_at(short).surface.yardstick is Yardstick.NOTHING


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, page = tmp_path / "bike.fit", tmp_path / "bike.html"
    write_fit(recorded(DROP), path)
    assert run(["alone", str(path), "--html", str(page), "--quiet"]) == 0
    text = capsys.readouterr().out
    assert "cannot show a constant error" in " ".join(text.split())
    assert "drop" in text
    assert "bike.fit" in page.read_text(encoding="utf-8")
    assert run(["alone", str(path), "--html", str(page)]) == 2
    assert run(["alone", str(path), "--html", str(path), "--replace"]) == 2
    assert run(["alone", str(tmp_path / "none.fit")]) == 2
    assert run(["alone", str(path), "--episode-depth-pct", "1"]) == 2
    capsys.readouterr()
    assert run(["alone", str(path), "--format", "json", "--quiet"]) == 0
    jsonschema.validate(json.loads(capsys.readouterr().out), alone_schema())
    silent = tmp_path / "silent.fit"
    write_fit(without(recorded(), ChannelName.POWER), silent)
    assert run(["alone", str(silent), "--quiet"]) == 3
