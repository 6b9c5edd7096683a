"""Rides seen by the bike alone, on bikes of unlike make: power rises with cadence and resistance, in unlike ways."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.efforts import Easy, Effort, GroupRide, Intervals, Mixed, Steady, Steps
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import USUAL_CHANNELS, Display, Meter, exponential, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.signals import decay_line

Make = Literal["eddy", "air", "magnet", "friction"]
MAKES: tuple[Make, ...] = ("eddy", "air", "magnet", "friction")


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBike(ResistanceBike):
    """A bike of one make, whose rider sets whole levels, or one share of them once and for all (``held_level``)."""

    make: Make = "eddy"
    held_level: float | None = None

    def _levels(self) -> FloatArray:
        return np.arange(0.0, {"eddy": 101.0, "air": 11.0, "magnet": 33.0, "friction": 25.0}[self.make])

    def table_w(self, cadence_rpm: FloatArray, level: FloatArray) -> FloatArray:
        """Power at a cadence and level."""
        turns = cadence_rpm / 80.0
        if self.make == "eddy":
            speed = turns * turns / (1.0 + 0.16 * turns * turns) * 1.16
            return np.asarray((20.0 + 2.4 * level + 0.03 * level * level) * speed)
        if self.make == "air":
            return np.asarray(25.0 * turns + (25.0 + 36.0 * level) * turns**2.9)
        if self.make == "magnet":
            return np.asarray((12.0 + 500.0 / (1.0 + np.exp(-(level - 20.0) / 5.5))) * turns ** (1.2 + 0.02 * level))
        return np.asarray((30.0 + 17.0 * level) * turns**1.05)

    def level_for(self, power_w: FloatArray, cadence_rpm: FloatArray) -> FloatArray:
        """The level whose power comes nearest to the target."""
        levels = self._levels()
        if self.held_level is not None:
            return np.full(power_w.size, float(np.round(self.held_level * levels[-1])))
        targets, back = np.unique(
            np.column_stack([power_w, np.maximum(cadence_rpm, 40.0)]), axis=0, return_inverse=True
        )
        tables = self.table_w(targets[:, 1][:, None], levels[None, :])
        nearest = levels[np.argmin(np.abs(tables - targets[:, 0][:, None]), axis=1)]
        return np.asarray(nearest[back.reshape(-1)])

    def true_w(self, cadence_rpm: FloatArray, level: FloatArray) -> FloatArray:
        """The same while the brake warms up."""
        warm = 1.0 - decay_line(cadence_rpm.size, self.warm_up_tau_min * 60.0)
        return np.asarray(self.table_w(cadence_rpm, level) * (1.0 + self.warm_up_pct / 100.0 * warm))


EFFORTS: dict[str, Effort] = {
    "mixed": Mixed(),
    "group": GroupRide(),
    "half minutes": Intervals(on_s=30.0, off_s=30.0, on_w=300.0, off_w=110.0, warm_up_s=300.0),
    "long intervals": Intervals(on_s=480.0, off_s=240.0, on_w=265.0, off_w=120.0, warm_up_s=600.0, repeats=4),
    "steps": Steps(start_w=110.0, step_w=40.0, steps=5, cadences_rpm=(70.0, 90.0)),
    "steady": Steady(power_w=210.0, cadence_rpm=86.0),
    "easy": Easy(),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AloneJob:
    """One ride: what is ridden on what, what is logged, and what goes wrong."""

    effort: str
    make: Make
    seed: int
    logged: str = "all"
    depth_pct: float = 0.0
    duration_s: float = 60.0
    minutes: int = 60


def recorded(job: AloneJob) -> tuple[Recording, float]:
    """The bike's recording, and the true onset of its drop in seconds after its first sample."""
    generator = np.random.default_rng([job.seed, MAKES.index(job.make), sum(map(ord, job.effort)), int(job.duration_s)])
    start_s = float(generator.uniform(0.2, 0.85) * 60.0 * job.minutes)
    displays: tuple[Display, ...] = (Display(), mean_of(3.0, delay_s=1.0), mean_of(6.0), exponential(2.5))
    channels = (*USUAL_CHANNELS, ChannelName.RESISTANCE)
    faults: tuple[Fault, ...] = ()
    bike = MadeBike(
        make=job.make,
        warm_up_pct=float(generator.uniform(-8.0, 0.0)),
        warm_up_tau_min=float(generator.uniform(4.0, 15.0)),
        held_level=0.35 if job.logged == "held resistance" else None,
    )
    if job.depth_pct:
        kind = FaultKind.DROP if job.depth_pct < 0 else FaultKind.SURGE
        faults = (
            Fault(
                kind=kind,
                start_s=start_s,
                duration_s=job.duration_s,
                depth_pct=job.depth_pct,
                edge_s=float(generator.uniform(0.0, 6.0)),
            ),
        )
    unit = Meter(
        name="bike",
        gain=float(generator.uniform(0.9, 1.08)),
        noise_pct=float(generator.uniform(1.0, 4.0)),
        wander_pct=float(generator.uniform(0.0, 1.0)),
        wander_tau_s=float(generator.uniform(20.0, 120.0)),
        display=displays[int(generator.integers(len(displays)))],
        cadence_display=displays[int(generator.integers(2))],
        channels=channels,
        faults=faults,
    )
    spec = RideSpec(
        meters=(unit,),
        effort=EFFORTS[job.effort],
        bike=bike,
        duration_s=60.0 * job.minutes,
    )
    (recording,) = simulate_ride(spec, job.seed).recordings
    hidden = {
        "all": (),
        "held resistance": (),
        "no heart": (ChannelName.HEART_RATE,),
        "no resistance": (ChannelName.RESISTANCE,),
        "power and heart": (ChannelName.RESISTANCE, ChannelName.CADENCE),
        "cadence alone": (ChannelName.RESISTANCE, ChannelName.HEART_RATE),
        "power alone": (ChannelName.RESISTANCE, ChannelName.HEART_RATE, ChannelName.CADENCE),
    }[job.logged]
    kept = {name: values for name, values in recording.channels.items() if name not in hidden}
    return replace(recording, channels=kept), start_s
