"""A bench keeps what was confirmed, whatever happens, and computes only what changed."""

from __future__ import annotations

import json
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from wattwitness.bench.catalogue import FILE_NAME, HEAD, catalogue, new_bench
from wattwitness.bench.json_form import from_text, to_text
from wattwitness.bench.originals import check_original, keep, original_path
from wattwitness.bench.rides import originals_of
from wattwitness.model.errors import BenchInvalid, BenchNewer, FileMissing, OutputExists, UnknownName
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures
from wattwitness.rider.zone_sets import SEVEN
from wattwitness.workflows import bench_studies as workflow
from wattwitness.workflows.bench import add_rides, bench_holds
from wattwitness.workflows.bench_studies import bench_study
from wattwitness.workflows.one_ride import RideTask, figures_of
from wattwitness.workflows.simulate import simulate_scenario

KILLS = 6
ADD = """
import sys
from pathlib import Path
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.workflows.bench import add_rides
bench, source = Path(sys.argv[1]), Path(sys.argv[2])
files = [(f"{source}/{n}-pedals.fit", f"{source}/{n}-bike.fit") for n in range(30)]
rides = [ListedRide(name=f"ride {n}", reference=one, unit=other) for n, (one, other) in enumerate(files)]
print("ready", flush=True)
add_rides(bench, ListedStudy(rides=tuple(rides)), "bike")
"""


@pytest.fixture(scope="module")
def ride(tmp_path_factory: pytest.TempPathFactory) -> ListedRide:
    folder = tmp_path_factory.mktemp("ride")
    simulate_scenario("laboratory", seed=1, folder=folder, formats=("fit",))
    return ListedRide(name="monday", reference=f"{folder}/pedals.fit", unit=f"{folder}/bike.fit")


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    new_bench(tmp_path / "bench")
    return tmp_path / "bench"


def test_the_newest_step_is_the_one_the_program_names(bench: Path) -> None:
    with sqlite3.connect(bench / FILE_NAME) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]


def test_originals_are_kept_byte_for_byte_and_once(bench: Path, ride: ListedRide) -> None:
    assert add_rides(bench, ListedStudy(rides=(ride,)), "bike").new == 1
    again = add_rides(bench, ListedStudy(rides=(replace(ride, name="another"),)), "bike")
    assert (again.new, again.known) == (0, 1)
    with catalogue(bench) as connection:
        originals = originals_of(connection)
    kept = {original_path(bench, one.sha256, one.file_name).read_bytes() for one in originals}
    assert kept == {Path(ride.reference).read_bytes(), Path(ride.unit).read_bytes()}
    assert all(original_path(bench, one.sha256, one.file_name).stat().st_mode & 0o222 == 0 for one in originals)


def test_an_altered_original_is_told_and_not_used(bench: Path, ride: ListedRide) -> None:
    add_rides(bench, ListedStudy(rides=(ride,)), "bike")
    original = keep(bench, Path(ride.unit))
    path = original_path(bench, original.sha256, original.file_name)
    path.chmod(0o644)
    path.write_bytes(path.read_bytes()[:-1] + b"\0")
    assert len(bench_holds(bench, check=True).wrong) == 1
    with pytest.raises(BenchInvalid, match=r"bike\.fit.*no longer"):
        bench_study(bench, ListedStudy(rides=(), unit="bike"), CompareSettings())
    keep(bench, Path(ride.unit))  # adding it again mends it
    check_original(bench, original)


def test_only_what_changed_is_compared_again(bench: Path, ride: ListedRide, monkeypatch: pytest.MonkeyPatch) -> None:
    compared: list[str] = []

    def counted(task: RideTask) -> object:
        compared.append(task.ride.name)
        return figures_of(task)

    monkeypatch.setattr(workflow, "figures_of", counted)
    add_rides(bench, ListedStudy(rides=(ride,)), "bike")
    asked, settings = ListedStudy(rides=(), unit="bike"), CompareSettings()
    first = bench_study(bench, asked, settings)
    second = bench_study(bench, asked, settings)
    assert compared == ["monday"]
    assert to_text(first.rides[0]) == to_text(second.rides[0])
    bench_study(bench, asked, replace(settings, power_band_w=40.0))
    assert compared == ["monday", "monday"]
    with pytest.raises(UnknownName, match="no unit"):
        bench_study(bench, replace(asked, unit="another"), settings)


def test_figures_come_back_from_their_text_whole(ride: ListedRide) -> None:
    figures = figures_of(RideTask(ride=ride, settings=CompareSettings(), zones=SEVEN, threshold_w=None))
    text = to_text(figures)
    assert to_text(from_text(RideFigures, text, whole=True)) == text
    assert isinstance(from_text(RideFigures, text, whole=True).block_bias_pct, tuple)
    assert np.isnan(from_text(RideFigures, text, whole=True).temperature_c)


@pytest.mark.parametrize("change", [{"name": 3}, {"hours": "3"}, {"hours": None}, {"more": 1}, {"bias_pct": []}])
def test_a_doctored_text_is_no_figures(ride: ListedRide, change: dict[str, object]) -> None:
    figures = figures_of(
        RideTask(ride=replace(ride, unit="gone.fit"), settings=CompareSettings(), zones=SEVEN, threshold_w=None)
    )
    with pytest.raises(ValueError, match=r"no|not"):
        from_text(RideFigures, json.dumps(json.loads(to_text(figures)) | change), whole=True)


def test_what_is_no_bench_a_newer_one_or_a_broken_one_is_told(bench: Path, tmp_path: Path) -> None:
    with pytest.raises(FileMissing, match="no bench"):
        bench_holds(tmp_path, check=False)
    with pytest.raises(OutputExists):
        new_bench(bench)
    (tmp_path / "begun").mkdir()
    (tmp_path / "begun" / FILE_NAME).touch()
    new_bench(tmp_path / "begun")  # its making was cut short
    assert bench_holds(tmp_path / "begun", check=True).originals == 0
    with sqlite3.connect(bench / FILE_NAME) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    with pytest.raises(BenchNewer, match="newer"):
        bench_holds(bench, check=False)
    (bench / FILE_NAME).write_bytes(b"no database at all" * 100)
    with pytest.raises(BenchInvalid):
        bench_holds(bench, check=False)


def test_killed_at_any_moment_the_bench_keeps_what_it_confirmed(bench: Path, tmp_path: Path) -> None:
    source = tmp_path / "source"
    source.mkdir()
    random = np.random.default_rng(5)
    for number in range(30):
        for meter in ("pedals", "bike"):
            (source / f"{number}-{meter}.fit").write_bytes(random.bytes(20_000))
    command = [sys.executable, "-c", ADD, str(bench), str(source)]
    seen = 0
    for _ in range(KILLS):
        process = subprocess.Popen(command, stdout=subprocess.PIPE)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(random.uniform(0, 0.25))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        holds = bench_holds(bench, check=True)
        assert not holds.wrong
        assert len(holds.rides) >= seen
        seen = len(holds.rides)
    subprocess.run(command, check=True, capture_output=True)
    holds = bench_holds(bench, check=True)
    assert (len(holds.rides), holds.originals, holds.wrong) == (30, 60, ())
