"""The rides that are timed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path


def write_pair(folder: Path, minutes: int) -> tuple[str, str]:
    """A ride of the demo's laboratory, stretched to ``minutes``, as two FIT files."""
    from wattwitness.simulate.ride import simulate_ride
    from wattwitness.simulate.scenarios import SCENARIOS
    from wattwitness.writers.fit import write_fit

    spec = replace(SCENARIOS.get("group_ride").rides[0], duration_s=minutes * 60)
    paths = []
    for meter, recording in zip(spec.meters, simulate_ride(spec, seed=minutes).recordings, strict=True):
        path = folder / f"{minutes}-{meter.name}.fit"
        write_fit(recording, path)
        paths.append(str(path))
    return paths[0], paths[1]
