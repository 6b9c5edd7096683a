"""Measure, in one run and in turns, the main job against the competent script, and how it grows with the ride.

python -m benchmarks --out docs/measured/speed.md
"""

from __future__ import annotations

import argparse
import os
import platform
import tempfile
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from benchmarks.competent import STAGES
from benchmarks.rides import write_pair
from benchmarks.timing import Run, middle, run_python

ROUNDS = 7
LENGTHS_MIN = (10, 30, 60, 180, 360, 720)
COMMAND = "make speed"


def main() -> None:
    """Run everything and write the page and its plot."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    page = parser.parse_args().out
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        # In a process of its own: what this one holds in memory would count as that of every process it starts.
        with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as writer:
            pairs = {minutes: writer.submit(write_pair, folder, minutes).result() for minutes in LENGTHS_MIN}
        against = _against_competent(pairs[60], folder / "page.html")
        growth = {minutes: _growth(pair) for minutes, pair in pairs.items()}
        start = {
            "wattwitness --help": middle([run_python(["-m", "wattwitness.cli.main", "--help"]) for _ in range(ROUNDS)])
        }
    page.parent.mkdir(parents=True, exist_ok=True)
    page.write_text(_page(against, growth, start))
    _plot(growth, page.with_suffix(".svg"))


def _against_competent(pair: tuple[str, str], page: Path) -> dict[str, tuple[Run, Run]]:
    """Each stage by both, taking turns, so that whatever else the machine does falls on both alike."""
    found = {}
    for stage in STAGES:
        ours, theirs = [], []
        for _ in range(ROUNDS):
            ours.append(run_python(["-m", "benchmarks.ours", stage, *pair, str(page)]))
            theirs.append(run_python(["-m", "benchmarks.competent", stage, *pair, str(page)]))
        found[stage] = (middle(ours), middle(theirs))
    return found


def _growth(pair: tuple[str, str]) -> Run:
    return middle([run_python(["-m", "benchmarks.ours", "whole", *pair]) for _ in range(3)])


def _page(against: dict[str, tuple[Run, Run]], growth: dict[int, Run], start: dict[str, Run]) -> str:
    lines = [
        "# Speed and memory",
        "",
        f"Made by `{COMMAND}` on {os.cpu_count()} cores, Python {platform.python_version()}.",
        "Every number is the median of cold processes, imports included.",
        "",
        "## Against a script of general libraries",
        "",
        "A one-hour pair of FIT files at one sample a second. The script (`benchmarks/competent.py`) is what a",
        "competent user would write with a FIT codec, pandas, scipy and matplotlib; it has no drift, no jumps, no",
        "response and no honest interval. Both take turns in one run. A ratio above 1 says that the script takes more.",
        "",
        "| stage, up to | wattwitness, s | script, s | ratio | wattwitness, MB | script, MB | ratio |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for stage, (ours, theirs) in against.items():
        lines.append(
            f"| {stage} | {ours.elapsed_s:.2f} | {theirs.elapsed_s:.2f} | {theirs.elapsed_s / ours.elapsed_s:.1f} "
            f"| {ours.peak_mb:.0f} | {theirs.peak_mb:.0f} | {theirs.peak_mb / ours.peak_mb:.1f} |"
        )
    outside_s = against["whole"][0].elapsed_s - against["read"][0].elapsed_s
    lines += [
        "",
        f"The whole comparison takes {outside_s:.2f} s more than starting and reading both files.",
        "",
        "## Start",
        "",
        "| command | s | MB |",
        "| --- | ---: | ---: |",
    ]
    lines += [f"| `{name}` | {run.elapsed_s:.2f} | {run.peak_mb:.0f} |" for name, run in start.items()]
    lines += [
        "",
        "## Growth with the length of the ride",
        "",
        "The whole comparison to JSON, cold. The ratio is to the line above: time that grows as the ride does gives",
        "the ratio of the lengths.",
        "",
        "| ride | s | ratio of times | ratio of lengths | MB |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    earlier: tuple[int, Run] | None = None
    for minutes, run in growth.items():
        times = f"{run.elapsed_s / earlier[1].elapsed_s:.1f}" if earlier else ""
        lengths = f"{minutes / earlier[0]:.1f}" if earlier else ""
        lines.append(f"| {minutes} min | {run.elapsed_s:.2f} | {times} | {lengths} | {run.peak_mb:.0f} |")
        earlier = (minutes, run)
    lines += ["", "![Time and memory against the length of the ride](speed.svg)", ""]
    return "\n".join(lines)


def _plot(growth: dict[int, Run], path: Path) -> None:
    import matplotlib as mpl

    mpl.use("Agg")
    mpl.rcParams["svg.hashsalt"] = "speed"
    from matplotlib import pyplot as plt

    hours = [minutes / 60 for minutes in growth]
    figure, (time_axes, memory_axes) = plt.subplots(1, 2, figsize=(9, 3.4), layout="constrained")
    time_axes.plot(hours, [run.elapsed_s for run in growth.values()], "o-", color="#0072B2")
    time_axes.set(xlabel="length of the ride, h", ylabel="time, s", ylim=(0, None))
    memory_axes.plot(hours, [run.peak_mb for run in growth.values()], "s-", color="#D55E00")
    memory_axes.set(xlabel="length of the ride, h", ylabel="peak memory, MB", ylim=(0, None))
    for axes in (time_axes, memory_axes):
        axes.grid(alpha=0.3)
    figure.savefig(path, metadata={"Date": None})


if __name__ == "__main__":
    main()
