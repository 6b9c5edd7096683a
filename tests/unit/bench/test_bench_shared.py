"""A bench between processes, and in a place that cannot be written to."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from wattwitness.bench.catalogue import new_bench
from wattwitness.workflows.bench import bench_holds

AS_SOMEONE_ELSE = """
import os, sys
from pathlib import Path
from wattwitness.workflows.bench import bench_holds
bench_holds(Path(sys.argv[1]), check=True)
os.setgid(65534)
os.setuid(65534)
"""
ADD = """
import sys
from pathlib import Path
from wattwitness.model.errors import WattwitnessError
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.workflows.bench import add_rides
bench, source, name = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3]
files = sorted(source.glob("*.fit"))
rides = [ListedRide(name=one.stem, reference=str(one), unit=str(other)) for one, other in zip(files, files[1:])]
try:
    add_rides(bench, ListedStudy(rides=tuple(rides)), name)
except WattwitnessError as error:
    sys.exit(f"{error.slug}: {error.what} {error.hint}")
"""


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """Files that are only kept, not read."""
    folder = tmp_path / "source"
    folder.mkdir()
    random = np.random.default_rng(8)
    for number in range(12):
        (folder / f"{number:02d}.fit").write_bytes(random.bytes(5_000))
    return folder


def test_two_processes_add_at_once_and_nothing_is_lost(tmp_path: Path, source: Path) -> None:
    """The same files for two units and, in a third process, once more for the first: each ride is there just once."""
    bench = tmp_path / "bench"
    new_bench(bench)
    adding = [
        subprocess.Popen([sys.executable, "-c", ADD, str(bench), str(source), name], stderr=subprocess.PIPE)
        for name in ("bike A", "bike B", "bike A")
    ]
    assert [(process.communicate()[1], process.returncode) for process in adding] == [(b"", 0)] * 3
    holds = bench_holds(bench, check=True)
    assert holds.wrong == ()
    assert holds.originals == 12
    names = [f"{number:02d}" for number in range(11)]
    for unit in ("bike A", "bike B"):
        assert [ride.noted.name for ride in holds.rides if ride.unit == unit] == names
    assert not list((bench / "originals").rglob(".part-*"))


@pytest.fixture
def read_only_bench() -> Iterator[Path]:
    """A bench that anyone may read and no one may write to, beside two files to add."""
    above = Path(tempfile.mkdtemp())
    above.chmod(0o755)
    for name in ("a.fit", "b.fit"):
        (above / name).write_bytes(name.encode())
    bench = above / "bench"
    new_bench(bench)
    for path in [bench, *bench.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    yield bench
    for path in [bench, *bench.rglob("*")]:
        path.chmod(0o755)
    shutil.rmtree(above)


def test_a_folder_that_is_read_only_is_told_in_a_sentence(read_only_bench: Path) -> None:
    """The superuser may write anywhere, so that the process becomes someone else once everything is imported."""
    become = AS_SOMEONE_ELSE if hasattr(os, "geteuid") and os.geteuid() == 0 else ""
    command = [sys.executable, "-c", become + ADD, str(read_only_bench), str(read_only_bench.parent), "bike"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr.startswith("output_not_writable: The bench cannot be written")
    assert bench_holds(read_only_bench, check=True).rides == ()
