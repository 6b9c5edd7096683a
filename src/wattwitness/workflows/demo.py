"""The main job on invented rides: a sports laboratory accepts four studio bikes, with pedals as reference."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.bench.catalogue import FILE_NAME, new_bench
from wattwitness.model.comparison import Comparison
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import Study
from wattwitness.render.saving import save
from wattwitness.simulate.four_bikes import FOUR_BIKES, BikeStudy
from wattwitness.simulate.scenarios import PEDALS
from wattwitness.workflows.bench import add_rides
from wattwitness.workflows.bench_studies import bench_study
from wattwitness.workflows.compare import Progress, RecordingChoice, compare_recordings, read_choices, silent
from wattwitness.workflows.publish import publish
from wattwitness.workflows.simulate import simulate_scenario, write_scenario
from wattwitness.workflows.study import listed_study

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


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoBikes:
    """The bench of the four bikes, their studies, and the page of all side by side."""

    bench: Path
    studies: tuple[Study, ...]
    page: Path


def run_demo_bikes(folder: Path, *, progress: Progress = silent) -> DemoBikes:
    """Ride four bikes on several days, keep the rides on a bench, judge each bike, and write a page for each and one
    for all.

    Pages and recordings of an earlier run are replaced; its bench stays, with whatever was added to it since. Raises
    OutputNotWritable.
    """
    from wattwitness.render.html import write_html
    from wattwitness.sections.publication import of_studies, of_study

    bench = folder / "bench"
    if not (bench / FILE_NAME).is_file():
        new_bench(bench)
    studies = []
    for bike in FOUR_BIKES:
        progress(f"riding {bike.unit} on {len(bike.firmware)} days")
        where = folder / bike.scenario.name.replace("_", "-")
        write_scenario(bike.scenario, seed=SEED, folder=where, replace=True)
        rides = where / "rides.toml"
        save(_list_of(bike).encode("utf-8"), rides, replace=True)
        listed, _ = listed_study(rides)
        wrote = (" ".join(f"{PEDALS.record.maker} {PEDALS.record.product}".split()), bike.unit)
        known = tuple(replace(ride, wrote=wrote) for ride in listed.rides)
        add_rides(bench, replace(listed, rides=known), bike.unit)
        asked = ListedStudy(rides=(), unit=bike.unit)
        studies.append(bench_study(bench, asked, CompareSettings(), progress=progress))
        write_html(of_study(studies[-1]), folder / f"{where.name}.html", replace=True)
    page = folder / "bikes.html"
    write_html(of_studies(studies), page, replace=True)
    return DemoBikes(bench=bench, studies=tuple(studies), page=page)


def _list_of(bike: BikeStudy) -> str:
    """The rides of a bike as the list that a tester would keep."""
    versions = list(dict.fromkeys(bike.firmware))
    lines = ["[study]", f'unit = "{bike.unit}"', "reference_uncertainty_pct = 0.5", "at_w = 190"]
    if len(versions) > 1:
        lines += [f'before = "{versions[0]}"', f'after = "{versions[-1]}"']
    lines += ["", "[claim]", 'source = "data sheet of the studio bikes"', "limit_pct = 2.5"]
    for spec, firmware in zip(bike.scenario.rides, bike.firmware, strict=True):
        files = [f"{spec.name}-{meter.name}.fit" for meter in spec.meters]
        lines += ["", "[[ride]]", f'name = "{spec.name}"', f'reference = "{files[0]}"', f'unit = "{files[1]}"']
        lines += [f'group = "{firmware}"', f'firmware = "{firmware}"']
    return "\n".join(lines) + "\n"
