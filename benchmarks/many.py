"""Measure a bench of many rides: import, first analysis, a second run, one added ride; memory along the way; kills.

python -m benchmarks.many --out docs/measured/bench.md
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

COUNTS = (25, 50, 100, 200)
KILLS = 50
DAY_S = 86_400.0
FIRST_UTC_S = 1_768_212_000.0
LOOK_S = 0.1
COMMAND = "python -m benchmarks.many --out docs/measured/bench.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a command took: seconds on the clock, seconds of all cores, and the largest memory of its own process and
    of any of its workers, in MB.
    """

    elapsed_s: float
    cores_s: float
    own_mb: float
    worker_mb: float
    output: str


def main() -> None:
    """Run everything and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--most", type=int, default=COUNTS[-1], help="Rides of the largest bench.")
    parser.add_argument("--kills", type=int, default=KILLS)
    given = parser.parse_args()
    counts = [count for count in COUNTS if count < given.most] + [given.most]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool:
            rides = list(pool.map(write_ride, range(given.most + 1), [folder / "rides"] * (given.most + 1)))
        lines = _growth(folder, rides, counts)
        lines += _kills(folder, rides[:12], given.kills)
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text("\n".join([*_head(), *lines, ""]))


def write_ride(number: int, folder: Path) -> list[Path]:
    """One hour of two meters at one sample a second as FIT files, of a kind and with a bias of its own."""
    from wattwitness.simulate.efforts import Easy, GroupRide, Intervals, Mixed, Part, Steps
    from wattwitness.simulate.ride import RideSpec
    from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario
    from wattwitness.workflows.simulate import write_scenario

    draws = random.Random(number)
    level = draws.uniform(150, 230)
    steps = Steps(start_w=0.6 * level, step_w=0.25 * level, steps=4, step_s=120.0, cadences_rpm=(70.0, 90.0))
    short = Intervals(on_s=40.0, off_s=50.0, on_w=1.5 * level, off_w=0.6 * level)
    kinds = (
        GroupRide(mean_w=level),
        Mixed(parts=(Part(effort=Easy(power_w=0.6 * level), seconds=600.0), Part(effort=steps, seconds=3000.0))),
        Mixed(parts=(Part(effort=short, seconds=1800.0), Part(effort=GroupRide(mean_w=level), seconds=1800.0))),
    )
    spec = RideSpec(
        name=f"ride{number:03d}",
        meters=(PEDALS, replace(BIKE, gain=BIKE.gain * (1 + draws.gauss(-0.03, 0.01)))),
        effort=kinds[number % len(kinds)],
        duration_s=3600.0,
        start_utc_s=FIRST_UTC_S + number * DAY_S,
    )
    scenario = Scenario(name="many", summary="One of many rides.", rides=(spec,))
    return list(write_scenario(scenario, seed=number, folder=folder / spec.name)[:2])


def _growth(folder: Path, rides: Sequence[list[Path]], counts: Sequence[int]) -> list[str]:
    lines = [
        "## Time and memory",
        "",
        "Rides of one hour, two FIT files each at one sample a second. Seconds on the clock, and in brackets of all",
        "cores together. Memory is the most that the program itself held, and the most of any of its workers.",
        "",
        "| rides | import | first analysis | again, unchanged | one ride added, judged | program, MB | worker, MB |",
        "| ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for count in counts:
        bench, files = folder / f"bench{count}", folder / f"files{count}"
        _together(rides[:count], files)
        _run("bench", "new", bench)
        imported = _run("bench", "add", bench, files, "--confirm", "--quiet", "--name", "bike")
        first, second = (_run("bench", "study", bench, "--format", "json", "--quiet") for _ in range(2))
        if first.output != second.output:
            raise RuntimeError("the second run gave another answer")
        added = _run("bench", "add", bench, *rides[count], "--confirm", "--quiet", "--name", "bike")
        again = _run("bench", "study", bench, "--format", "json", "--quiet")
        own, workers = max(imported.own_mb, first.own_mb, again.own_mb), max(first.worker_mb, imported.worker_mb)
        one_more = f"{added.elapsed_s + again.elapsed_s:.1f} s ({added.cores_s + again.cores_s:.1f})"
        times = " | ".join(_time(cost) for cost in (imported, first, second))
        lines.append(f"| {count} | {times} | {one_more} | {own:.0f} | {workers:.0f} |")
        shutil.rmtree(bench)
    return lines


def _kills(folder: Path, rides: Sequence[list[Path]], kills: int) -> list[str]:
    """Kill imports and analyses at moments spread over their whole run, each time on the bench that is there."""
    files = folder / "killed-files"
    _together(rides, files)
    whole = folder / "whole"
    _run("bench", "new", whole)
    import_s = _run("bench", "add", whole, files, "--confirm", "--quiet", "--name", "bike").elapsed_s
    study = _run("bench", "study", whole, "--format", "json", "--quiet")
    draws, early = random.Random(1), 0
    for kill in range(kills):
        bench = folder / f"killed{kill}"
        _run("bench", "new", bench)
        add = ["bench", "add", bench, files, "--confirm", "--quiet", "--name", "bike"]
        early += _killed(add, draws.uniform(0, import_s))
        _run("bench", "show", bench, "--check")
        _run(*add)
        ask = ["bench", "study", bench, "--format", "json", "--quiet"]
        early += _killed(ask, draws.uniform(0, study.elapsed_s))
        _run("bench", "show", bench, "--check")
        if _run(*ask).output != study.output:
            raise RuntimeError("the analysis after a kill gave another answer")
        if list(bench.rglob(".part-*")):
            raise RuntimeError("half a recording was left")
        shutil.rmtree(bench)
    words = (
        f"{kills} imports and {kills} analyses of {len(rides)} rides were killed with SIGKILL at random moments of "
        f"their run; {2 * kills - early} of them had not ended by then. Each time the bench opened, every recording on "
        "it was what had been kept, the same command completed, and the answer was that of an undisturbed bench to the "
        "last digit."
    )
    return ["", "## Kills", "", words]


def _killed(arguments: Sequence[object], after_s: float) -> int:
    """1 where the command had ended before it was killed."""
    process = subprocess.Popen(_command(arguments), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(timeout=after_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return 0
    return 1


def _together(rides: Sequence[list[Path]], folder: Path) -> None:
    """The files of the rides in one folder."""
    folder.mkdir()
    for files in rides:
        for file in files:
            os.link(file, folder / f"{file.parent.name}-{file.name}")


def _run(*arguments: object) -> Cost:
    """Run a command of ours to its end. Raises RuntimeError where it fails."""
    began, before = time.perf_counter(), os.times()
    own = worker = 0.0
    with tempfile.TemporaryFile("w+") as output, tempfile.TemporaryFile("w+") as wrong:
        process = subprocess.Popen(_command(arguments), stdout=output, stderr=wrong)
        while process.poll() is None:
            own = max(own, _peak_mb(process.pid))
            worker = max([worker, *(_peak_mb(child) for child in _children(process.pid))])
            time.sleep(LOOK_S)
        elapsed_s, after = time.perf_counter() - began, os.times()
        output.seek(0)
        wrong.seek(0)
        if process.returncode not in (0, 1):
            raise RuntimeError(f"{arguments}: {wrong.read()}")
        cores_s = (after.children_user - before.children_user) + (after.children_system - before.children_system)
        return Cost(elapsed_s=elapsed_s, cores_s=cores_s, own_mb=own, worker_mb=worker, output=output.read())


def _command(arguments: Sequence[object]) -> list[str]:
    return [sys.executable, "-m", "wattwitness.cli.main", *map(str, arguments)]


def _children(pid: int) -> Iterator[int]:
    try:
        text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    except OSError:
        return
    for child in text.split():
        yield int(child)


def _peak_mb(pid: int) -> float:
    """The most memory that a process has held so far."""
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    line = next((line for line in text.splitlines() if line.startswith("VmHWM")), "VmHWM: 0 kB")
    return int(line.split()[1]) / 1024


def _time(cost: Cost) -> str:
    return f"{cost.elapsed_s:.1f} s ({cost.cores_s:.1f})"


def _head() -> list[str]:
    made = (
        f"Made by `{COMMAND}` on {os.cpu_count()} cores, Python {platform.python_version()}; other programs ran too: "
        f"the machine's load was {os.getloadavg()[2]:.1f} on average in the last quarter of an hour."
    )
    return ["# A bench of many rides", "", made, ""]


if __name__ == "__main__":
    main()
