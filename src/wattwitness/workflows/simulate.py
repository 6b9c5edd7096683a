"""Write the rides of a scenario as files, and what is true of them beside the files.

``truth.json`` holds ``scenario``, ``seed`` and ``rides``. A ride has ``name``, ``duration_s``, ``reference`` (the
meter), ``files`` (for each meter its file names) and ``units``. A unit has ``name``; ``clock`` with ``offset_s``,
``drift_ppm`` and ``jumps`` (``at_s``, ``until_s``, ``step_s``), signed as a comparison reports them; ``bias_pct``,
which an interval should cover, ``bias_without_faults_pct`` and ``realised_bias_pct`` (see ``simulate.truth``);
``common_seconds``; ``response`` with ``kind``, ``width_s``, ``tau_s`` and ``delay_s``; and ``episodes`` (``meter``,
``kind``, ``onset_s``, ``end_s``, ``depth_pct``). Seconds count from the reference's first sample.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from wattwitness.model.errors import OutputNotWritable
from wattwitness.simulate.draws import derived_seed
from wattwitness.simulate.ride import SimulatedRide, simulate_ride
from wattwitness.simulate.scenarios import SCENARIOS, Scenario
from wattwitness.simulate.truth import UnitTruth
from wattwitness.writers.registry import WRITERS
from wattwitness.writers.saving import save

TRUTH_FILE = "truth.json"


def simulate_scenario(
    name: str, *, seed: int, folder: Path, formats: Sequence[str] = ("fit",), replace: bool = False
) -> tuple[Path, ...]:
    """Write every recording of the scenario ``name`` in each of ``formats``, and ``truth.json``; return the paths.

    A meter's file is called after it, with the ride's name before it where the scenario has several. The files come
    ride by ride with the reference's first, the truth last. Raises UnknownName, OutputExists unless ``replace``, and
    OutputNotWritable.
    """
    return write_scenario(SCENARIOS.get(name), seed=seed, folder=folder, formats=formats, replace=replace)


def write_scenario(
    scenario: Scenario, *, seed: int, folder: Path, formats: Sequence[str] = ("fit",), replace: bool = False
) -> tuple[Path, ...]:
    """The same for a scenario that need not be registered."""
    writers = [WRITERS.get(format_name) for format_name in formats]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputNotWritable(
            f"The folder cannot be made: {error.strerror or error}.",
            where=str(folder),
            hint="Name a folder that you may write to.",
        ) from error
    paths: list[Path] = []
    rides: list[dict[str, Any]] = []
    for spec in scenario.rides:
        ride = simulate_ride(spec, derived_seed(seed, spec.name))
        files: dict[str, list[str]] = {}
        for meter, recording in zip(spec.meters, ride.recordings, strict=True):
            stem = meter.name if len(scenario.rides) == 1 else f"{spec.name}-{meter.name}"
            for writer in writers:
                path = folder / f"{stem}{writer.suffix}"
                writer.write(recording, path, overwrite=replace)
                paths.append(path)
                files.setdefault(meter.name, []).append(path.name)
        rides.append(_ride_truth(ride, files))
    truth = json.dumps({"scenario": scenario.name, "seed": seed, "rides": rides}, indent=2, allow_nan=False)
    save(f"{truth}\n".encode(), folder / TRUTH_FILE, overwrite=replace)
    return (*paths, folder / TRUTH_FILE)


def _ride_truth(ride: SimulatedRide, files: dict[str, list[str]]) -> dict[str, Any]:
    return {
        "name": ride.spec.name,
        "duration_s": ride.spec.duration_s,
        "reference": ride.spec.meters[0].name,
        "files": files,
        "units": [_unit_truth(unit) for unit in ride.truth.units],
    }


def _unit_truth(unit: UnitTruth) -> dict[str, Any]:
    return {
        "name": unit.name,
        "clock": {
            "offset_s": unit.offset_s,
            "drift_ppm": unit.drift_ppm,
            "jumps": [{"at_s": jump.at_s, "until_s": jump.until_s, "step_s": jump.step_s} for jump in unit.jumps],
        },
        "bias_pct": _number(unit.bias_pct),
        "bias_without_faults_pct": _number(unit.bias_without_faults_pct),
        "realised_bias_pct": _number(unit.realised_bias_pct),
        "common_seconds": unit.common_seconds,
        "response": {
            "kind": unit.display.kind.value,
            "width_s": unit.display.width_s,
            "tau_s": unit.display.tau_s,
            "delay_s": unit.display.delay_s,
        },
        "episodes": [
            {
                "meter": episode.meter,
                "kind": episode.kind.value,
                "onset_s": episode.onset_s,
                "end_s": episode.end_s,
                "depth_pct": episode.depth_pct,
            }
            for episode in unit.episodes
        ],
    }


def _number(value: float) -> float | None:
    """JSON has no NaN."""
    return None if value != value else value
