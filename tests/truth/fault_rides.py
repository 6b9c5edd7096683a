"""Rides for the truth runs of faults: every effort, unit, clock and kind of trouble in turn, drawn by chance."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.fit import fit_clock
from wattwitness.clock.grid import align
from wattwitness.clock.response import compared_unit_power, expected_power, fit_response
from wattwitness.faults.find import power_without_recorded_faults
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.settings import CompareSettings
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.clocks import Clock, RecorderPause
from wattwitness.simulate.efforts import (
    Ease,
    Easy,
    Effort,
    GroupRide,
    Intervals,
    Mixed,
    Part,
    Ramp,
    Steady,
    Steps,
)
from wattwitness.simulate.faults import Fault
from wattwitness.simulate.meters import Display, Dropouts, Meter, Sampling, Settling, exponential, mean_of
from wattwitness.simulate.ride import RideSpec, SimulatedRide, simulate_ride
from wattwitness.simulate.rider import Rider

EFFORTS = (
    "steady",
    "long intervals",
    "30/30",
    "short intervals",
    "sprints",
    "group",
    "ramp",
    "steps",
    "cadence drills",
    "easy",
    "mixed",
    "set resistance",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A ride to be simulated, and under which seed."""

    spec: RideSpec
    seed: int
    effort: str


def drawn_ride(seed: int, *, hours: float = 1.0, effort: str = "") -> Drawn:
    """A ride without any fault; ``seed`` decides everything that is not given."""
    rng = np.random.default_rng([seed, 404])
    name = effort or EFFORTS[seed % len(EFFORTS)]
    duration_s = 3600.0 * hours
    return Drawn(
        spec=RideSpec(
            meters=(_reference(rng), _unit(rng, duration_s)),
            effort=_effort(name, rng),
            rider=Rider(power_cv_pct=float(rng.uniform(4.0, 9.0))),
            bike=ResistanceBike(warm_up_pct=float(rng.uniform(-8.0, 0.0))) if name == "set resistance" else None,
            duration_s=duration_s,
        ),
        seed=seed,
        effort=name,
    )


def with_faults(drawn: Drawn, *faults: Fault, of_reference: bool = False) -> Drawn:
    """The same ride with faults of one meter."""
    meters = list(drawn.spec.meters)
    place = 0 if of_reference else 1
    meters[place] = replace(meters[place], faults=faults)
    return replace(drawn, spec=replace(drawn.spec, meters=tuple(meters)))


def with_eases(drawn: Drawn, *eases: Ease) -> Drawn:
    """The same ride with the rider easing off."""
    return replace(drawn, spec=replace(drawn.spec, eases=eases))


def _effort(name: str, rng: np.random.Generator) -> Effort:
    base = float(rng.uniform(150.0, 250.0))
    rpm = float(rng.uniform(78.0, 94.0))
    hard = Intervals(
        on_s=float(rng.choice([120.0, 180.0, 240.0, 480.0])),
        off_s=float(rng.choice([60.0, 120.0, 180.0, 240.0])),
        on_w=1.35 * base,
        off_w=0.6 * base,
        on_rpm=rpm + 4.0,
        off_rpm=rpm - 6.0,
        warm_up_s=float(rng.uniform(300.0, 900.0)),
    )
    efforts: dict[str, Effort] = {
        "steady": Steady(power_w=base, cadence_rpm=rpm),
        "set resistance": Intervals(
            on_s=600.0, off_s=300.0, on_w=1.2 * base, off_w=0.8 * base, on_rpm=rpm, off_rpm=rpm - 4.0
        ),
        "long intervals": hard,
        "30/30": Intervals(on_s=30.0, off_s=30.0, on_w=1.6 * base, off_w=0.55 * base, warm_up_s=600.0),
        "short intervals": Intervals(
            on_s=float(rng.choice([15.0, 20.0, 40.0, 60.0])),
            off_s=float(rng.choice([15.0, 40.0, 60.0])),
            on_w=1.6 * base,
            off_w=0.5 * base,
            warm_up_s=420.0,
        ),
        "sprints": Intervals(
            on_s=float(rng.uniform(6.0, 14.0)),
            off_s=float(rng.uniform(60.0, 240.0)),
            on_w=float(rng.uniform(600.0, 1000.0)),
            off_w=0.7 * base,
            on_rpm=rpm + 20.0,
            off_rpm=rpm,
            warm_up_s=600.0,
        ),
        "group": GroupRide(mean_w=base, cadence_rpm=rpm),
        "ramp": Ramp(start_w=80.0, end_w=1.7 * base, cadence_rpm=rpm),
        "steps": Steps(
            start_w=100.0,
            step_w=float(rng.choice([25.0, 40.0, 50.0])),
            steps=6,
            step_s=float(rng.choice([90.0, 180.0, 300.0])),
            cadences_rpm=(70.0, 90.0),
        ),
        "cadence drills": Steps(
            start_w=base, step_w=0.0, steps=1, step_s=120.0, cadences_rpm=(60.0, 75.0, 90.0, 105.0)
        ),
        "easy": Easy(power_w=0.65 * base, cadence_rpm=rpm),
        "mixed": Mixed(
            parts=(
                Part(effort=Easy(power_w=0.6 * base), seconds=480.0),
                Part(effort=hard, seconds=1200.0),
                Part(effort=GroupRide(mean_w=base), seconds=900.0),
                Part(effort=Intervals(on_s=30.0, off_s=30.0, on_w=1.6 * base, off_w=0.5 * base), seconds=480.0),
                Part(effort=Steady(power_w=base), seconds=540.0),
            )
        ),
    }
    return efforts[name]


def _display(rng: np.random.Generator) -> Display:
    delay_s = float(rng.choice([0.0, 0.5, 1.0, 2.0, 3.0]))
    kind = rng.integers(0, 3)
    if kind == 0:
        return mean_of(float(rng.integers(1, 9)), delay_s=delay_s)
    if kind == 1:
        return mean_of(3.0, delay_s=delay_s)
    return exponential(float(rng.uniform(0.8, 4.0)), delay_s=delay_s)


def _reference(rng: np.random.Generator) -> Meter:
    return Meter(
        name="pedals",
        noise_pct=float(rng.uniform(0.6, 1.8)),
        wander_pct=float(rng.uniform(0.0, 0.5)),
        wander_tau_s=float(np.exp(rng.uniform(np.log(10.0), np.log(120.0)))),
        zero_nm=float(rng.normal(0.0, 0.2)),
        dropouts=None if rng.random() < 0.6 else Dropouts(share=float(rng.uniform(0.002, 0.03))),
        channels=(ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE),
    )


def _unit(rng: np.random.Generator, duration_s: float) -> Meter:
    pauses: tuple[RecorderPause, ...] = ()
    if rng.random() < 0.15:
        at_s = float(rng.uniform(0.3, 0.7)) * duration_s
        pauses = (
            RecorderPause(
                start_s=at_s,
                duration_s=float(rng.uniform(20.0, 180.0)),
                shows_gap=bool(rng.random() < 0.7),
                announced=bool(rng.random() < 0.5),
            ),
        )
    return Meter(
        name="bike",
        gain=float(rng.uniform(0.85, 1.12)),
        loss_w=float(rng.choice([0.0, 2.5])),
        loss_pct=float(rng.choice([0.0, 1.2])),
        zero_nm=float(rng.choice([0.0, 0.0, rng.normal(0.0, 1.0)])),
        per_100_w_pct=float(rng.choice([0.0, 0.0, rng.normal(0.0, 1.0)])),
        settling=None
        if rng.random() < 0.6
        else Settling(start_pct=float(rng.uniform(-9.0, 7.0)), tau_min=float(rng.uniform(3.0, 14.0))),
        noise_pct=float(rng.uniform(0.4, 1.8)),
        wander_pct=float(rng.uniform(0.0, 1.0)),
        wander_tau_s=float(np.exp(rng.uniform(np.log(10.0), np.log(120.0)))),
        display=_display(rng),
        sampling=Sampling(step_s=float(rng.choice([1.0, 1.0, 1.0, 0.25, 1.26]))),
        dropouts=None
        if rng.random() < 0.6
        else Dropouts(share=float(rng.uniform(0.002, 0.03)), held=bool(rng.random() < 0.5)),
        power_step_w=float(rng.choice([1.0, 1.0, 1.0, 5.0])),
        clock=Clock(
            offset_s=float(rng.uniform(-120.0, 120.0)),
            drift_ppm=float(rng.uniform(-60.0, 60.0)),
            starts_s=float(rng.uniform(0.0, 30.0)),
            pauses=pauses,
            whole_seconds=bool(rng.random() < 0.7),
        ),
    )


def simulated(drawn: Drawn) -> SimulatedRide:
    """Ride it."""
    return simulate_ride(drawn.spec, drawn.seed)


def through_the_chain(reference: Recording, unit: Recording) -> RideForFaults | None:
    """Clock, grid and response as a comparison finds them; ``None`` where there is no usable clock."""
    clock = fit_clock(reference, unit)
    if not clock.status.usable:
        return None
    pair = align(reference, unit, clock)
    powers = pair.reference[ChannelName.POWER], pair.unit[ChannelName.POWER]
    ride = _seen(reference, unit, clock, pair, powers)
    without = power_without_recorded_faults(ride, CompareSettings())
    return ride if without is None else _seen(reference, unit, clock, pair, without)


def _seen(
    reference: Recording,
    unit: Recording,
    clock: ClockFit,
    pair: AlignedPair,
    response_from: tuple[FloatArray, FloatArray],
) -> RideForFaults:
    """The ride with the response read from the two powers ``response_from`` (n,)."""
    uncertainty_s = clock.standard_uncertainty_s
    response = fit_response(
        *response_from,
        clock_channel=clock.channel,
        clock_uncertainty_s=0.0 if np.isnan(uncertainty_s) else uncertainty_s,
        reference_blend=pair.reference_blend,
        unit_blend=pair.unit_blend,
    )
    return RideForFaults(
        pair=pair,
        expected_w=expected_power(pair.reference[ChannelName.POWER], response),
        unit_w=compared_unit_power(pair.unit[ChannelName.POWER], response),
        response=response,
        clock=clock,
        recorded_reference=reference,
        recorded_unit=unit,
        reference_name="pedals",
        unit_name="bike",
    )
