"""A small bench for tests: two units over a few short rides, with names that a page must not run."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from wattwitness.bench.catalogue import new_bench
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.simulate.efforts import GroupRide
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.ride import RideSpec
from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario
from wattwitness.workflows.bench import add_rides
from wattwitness.workflows.simulate import write_scenario

SCRIPT = "<script>document.title='run'</script>"
HANDLER = '"><img src=x onerror="document.title=\'run\'">'
FORMULA = '=HYPERLINK("http://evil.example")'
MINUTES = 12


def write_rides(folder: Path, *, rides: int = 3, hub: bool = True) -> list[list[Path]]:
    """Short rides by pedals and a bike whose own name is a script; the last by a hub too, with a drop of the bike."""
    found = []
    for number in range(rides):
        drop = Fault(kind=FaultKind.DROP, start_s=300.0, duration_s=120.0, depth_pct=-35.0, edge_s=2.0)
        last = number == rides - 1
        record = replace(BIKE.record, product=f"bike {SCRIPT}", firmware="1.04")
        bike = replace(BIKE, gain=0.96 + 0.004 * number, record=record, faults=(drop,) if last else ())
        third = (
            (replace(BIKE, name="hub", gain=0.99, record=replace(BIKE.record, product="hub")),) if last and hub else ()
        )
        spec = RideSpec(
            name=f"ride{number + 1}",
            meters=(PEDALS, bike, *third),
            effort=GroupRide(mean_w=170.0 + 20 * number),
            duration_s=60.0 * MINUTES,
            start_utc_s=1_768_212_000.0 + 86_400.0 * number,
        )
        scenario = Scenario(name="few", summary="A few rides.", rides=(spec,))
        found.append(list(write_scenario(scenario, seed=number, folder=folder / spec.name)[:-1]))
    return found


def furnish(bench: Path, folder: Path) -> Path:
    """Make the bench: the bike over three rides as unit 1, the hub over the last of them as unit 2."""
    new_bench(bench)
    files = write_rides(folder)
    listed = [
        ListedRide(
            name=f"ride {number} {SCRIPT}", reference=str(one[0]), unit=str(one[1]), rider=HANDLER, group=FORMULA
        )
        for number, one in enumerate(files, start=1)
    ]
    add_rides(bench, ListedStudy(rides=tuple(listed)), f"bike {HANDLER}")
    third = ListedRide(name="ride 3", reference=str(files[-1][0]), unit=str(files[-1][2]))
    add_rides(bench, ListedStudy(rides=(third,)), "rear hub")
    return bench
