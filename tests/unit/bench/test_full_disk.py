"""A disk that is full: a clear sentence, nothing that was kept is lost, and the same command completes with room."""

from __future__ import annotations

import random
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wattwitness.bench.archive import write_archive
from wattwitness.bench.catalogue import new_bench
from wattwitness.model.errors import OutputNotWritable
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.workflows.bench import add_rides, bench_holds

Room = Callable[[int], None]


@pytest.fixture
def small(tmp_path: Path) -> Iterator[tuple[Path, Room]]:
    """A real disk of 300 kB, and a way to give it more room."""
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "tmpfs", place], check=False, capture_output=True)
    if made.returncode != 0:
        pytest.skip("only root may make a small disk here")

    def room(kilobytes: int) -> None:
        subprocess.run(["mount", "-o", f"remount,size={kilobytes}k", place], check=True)

    yield place, room
    subprocess.run(["umount", "-l", place], check=True)


def test_an_import_into_a_full_disk_loses_nothing_and_completes_with_room(
    small: tuple[Path, Room], tmp_path: Path
) -> None:
    place, room = small
    bench = place / "bench"
    new_bench(bench)
    rides = []
    for number in range(6):
        files = [tmp_path / f"{number}-{side}.csv" for side in ("pedals", "bike")]
        for file in files:
            file.write_bytes(random.Random(file.name).randbytes(20_000))
        rides.append(ListedRide(name=f"ride {number}", reference=str(files[0]), unit=str(files[1])))
    listed = ListedStudy(rides=tuple(rides))
    with pytest.raises(OutputNotWritable, match="cannot be written") as told:
        add_rides(bench, listed, "bike A")
    assert "disk is not full" in told.value.hint
    before = bench_holds(bench, check=True)
    assert before.wrong == ()
    assert 0 < len(before.rides) < 6
    with pytest.raises(OutputNotWritable):
        write_archive(bench, place / "bench.zip", version="test", replace=False, progress=lambda _: None)
    room(4000)
    assert add_rides(bench, listed, "bike A").known == len(before.rides)
    after = bench_holds(bench, check=True)
    assert len(after.rides) == 6
    assert after.wrong == ()
    assert list(bench.rglob(".part-*")) == []
