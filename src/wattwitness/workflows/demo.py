"""The main job on an invented ride: a sports laboratory tests one of four studio bikes against pedals."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from wattwitness.model.comparison import Comparison
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.compare import Progress, RecordingChoice, compare_recordings, read_choices, silent
from wattwitness.workflows.publish import publish
from wattwitness.workflows.simulate import simulate_scenario

SCENARIO = "laboratory"
SEED = 1


def run_demo(folder: Path, *, progress: Progress = silent) -> tuple[Comparison, Path]:
    """Write the demo's recordings, compare them as files, and write the report; return both.

    Files of an earlier run are replaced. Raises OutputNotWritable where ``folder`` cannot be written.
    """
    progress("inventing a ride")
    paths = simulate_scenario(SCENARIO, seed=SEED, folder=folder / "recordings", formats=("fit",), replace=True)
    recordings = [path for path in paths if path.suffix == ".fit"]
    choices = [RecordingChoice(argument=str(path)) for path in recordings]
    named = [
        replace(recording, label=recording.meter.product or recording.source.file_name)
        for recording in read_choices(choices, progress=progress)
    ]
    comparison = compare_recordings(named, CompareSettings(), progress=progress)
    report = folder / "report.html"
    publish(comparison, html_path=report, figures_folder=folder / "figures", replace=True, progress=progress)
    return comparison, report
