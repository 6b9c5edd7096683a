"""A seed gives the same bytes on every machine.

Checked in two ways: the files of a run with all of numpy's optional processor features switched off equal those of an
ordinary run, and both equal a fixed checksum (a regression value of our own), so that another processor, operating
system or version of numpy is found out by whoever runs these tests there.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from wattwitness.workflows.simulate import simulate_scenario

FORMATS = ("fit", "tcx", "gpx", "csv")
SCENARIOS = ("laboratory", "set_and_hold", "event_driven")
GOLDEN = "6a5323d736761dbe77212aa9f0d1b5cd247effbc50bddc112bc3fba1ef39d37a"

RUN = """
import sys
from pathlib import Path
from tests.unit.simulate.test_same_bytes import digest, optional_features
print(digest(Path(sys.argv[1])), len(optional_features()))
"""


def digest(folder: Path) -> str:
    """SHA-256 over the names and bytes of all files of a few scenarios."""
    total = hashlib.sha256()
    for name in SCENARIOS:
        for path in simulate_scenario(name, seed=1, folder=folder / name, formats=FORMATS):
            total.update(path.name.encode() + b"\0" + path.read_bytes())
    return total.hexdigest()


def optional_features() -> list[str]:
    """Processor features that numpy uses here beyond what it was built for."""
    configuration = np.show_config(mode="dicts")
    assert configuration is not None
    found = configuration["SIMD Extensions"].get("found", [])
    return [str(name) for name in found]


def run_without(features: list[str], folder: Path) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", RUN, str(folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "NPY_DISABLE_CPU_FEATURES": " ".join(features)},
        cwd=Path(__file__).parents[3],
    )
    return done.stdout.split()


def test_processor_features_leave_no_trace(tmp_path: Path) -> None:
    features = optional_features()
    if not features:
        pytest.skip("numpy uses no optional processor features on this machine")
    found, still_on = run_without(features, tmp_path / "plain")
    assert still_on == "0"
    assert found == digest(tmp_path / "fast")


def test_bytes_are_those_of_the_day_they_were_fixed(tmp_path: Path) -> None:
    assert digest(tmp_path) == GOLDEN
