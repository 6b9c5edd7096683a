"""Four invented bikes, each ridden on several days: what a laboratory finds that accepts a delivery.

Bike A is good. B reads low by the same share every day, which can be corrected. C starts right and settles low. D
differs from day to day and falls away on firmware 1.04, and is mended by 1.05.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from wattwitness.simulate.efforts import Easy, Effort, GroupRide, Intervals, Mixed, Part, Steps
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import Meter, Settling
from wattwitness.simulate.ride import RideSpec
from wattwitness.simulate.scenarios import BIKE, PEDALS, Scenario

DAY_S = 86_400.0
FIRST_UTC_S = 1_768_212_000.0
RIDE_S = 1800.0
LONG_S = 4000.0
"""Six hours without a fault show that they are rare; the rides after a repair are as long as that takes."""

OLD, NEW = "1.04", "1.05"


@dataclass(frozen=True, slots=True, kw_only=True)
class BikeStudy:
    """The rides of one bike, and the firmware of each, in their order."""

    scenario: Scenario
    unit: str
    firmware: tuple[str, ...]


def _effort(level: float) -> Effort:
    """Half an hour about ``level`` watts: easy, steps at two cadences, short efforts, surges."""
    steps = Steps(start_w=0.6 * level, step_w=0.25 * level, steps=4, step_s=80.0, cadences_rpm=(70.0, 90.0))
    short = Intervals(on_s=40.0, off_s=50.0, on_w=1.5 * level, off_w=0.6 * level)
    return Mixed(
        parts=(
            Part(effort=Easy(power_w=0.65 * level), seconds=240.0),
            Part(effort=steps, seconds=640.0),
            Part(effort=short, seconds=360.0),
            Part(effort=GroupRide(mean_w=level), seconds=560.0),
        )
    )


LEVELS_W = (180.0, 205.0, 160.0, 220.0, 190.0, 170.0)
GOOD = replace(BIKE, loss_w=0.0, loss_pct=0.0, gain=1.0)


def _rides(
    name: str, letter: str, bikes: tuple[Meter, ...], firmware: tuple[str, ...], *, new_ride_s: float = RIDE_S
) -> BikeStudy:
    specs = []
    for day, (bike, version) in enumerate(zip(bikes, firmware, strict=True)):
        record = replace(bike.record, product=f"studio bike {letter}", firmware=version)
        specs.append(
            RideSpec(
                name=f"{letter.lower()}-ride{day + 1:02d}",
                meters=(PEDALS, replace(bike, record=record)),
                effort=_effort(LEVELS_W[day % len(LEVELS_W)]),
                duration_s=new_ride_s if version == NEW else RIDE_S,
                start_utc_s=FIRST_UTC_S + day * DAY_S,
            )
        )
    summary = f"{len(specs)} rides of studio bike {letter}."
    return BikeStudy(
        scenario=Scenario(name=name, summary=summary, rides=tuple(specs)),
        unit=f"studio bike {letter}",
        firmware=firmware,
    )


def _drop(start_s: float, duration_s: float, depth_pct: float) -> Fault:
    return Fault(kind=FaultKind.DROP, start_s=start_s, duration_s=duration_s, depth_pct=depth_pct, edge_s=3.0)


_A_GAINS = (1.002, 0.996, 1.004, 0.999, 0.997, 1.001)
_B_GAINS = (0.942, 0.939, 0.941, 0.938, 0.940)
_D_OLD = (
    replace(GOOD, gain=0.93, faults=(_drop(1150.0, 130.0, -31.0),)),
    replace(GOOD, gain=0.985, faults=(_drop(1240.0, 75.0, -26.0), _drop(1560.0, 60.0, -33.0))),
    replace(GOOD, gain=0.91),
    replace(GOOD, gain=0.965, faults=(_drop(1190.0, 160.0, -28.0),)),
    replace(GOOD, gain=0.94, faults=(_drop(1330.0, 90.0, -30.0),)),
    replace(GOOD, gain=0.995, faults=(_drop(1210.0, 100.0, -27.0),)),
)
_D_NEW = tuple(replace(GOOD, gain=gain) for gain in (0.996, 1.001, 0.998, 1.003, 0.997, 1.0))

FOUR_BIKES: tuple[BikeStudy, ...] = (
    _rides("bike_a", "A", tuple(replace(GOOD, gain=gain) for gain in _A_GAINS), (OLD,) * len(_A_GAINS)),
    _rides("bike_b", "B", tuple(replace(GOOD, gain=gain) for gain in _B_GAINS), (OLD,) * len(_B_GAINS)),
    _rides(
        "bike_c",
        "C",
        tuple(replace(GOOD, gain=gain, settling=Settling(start_pct=6.5, tau_min=5.0)) for gain in _B_GAINS),
        (OLD,) * len(_B_GAINS),
    ),
    _rides("bike_d", "D", _D_OLD + _D_NEW, (OLD,) * len(_D_OLD) + (NEW,) * len(_D_NEW), new_ride_s=LONG_S),
)
