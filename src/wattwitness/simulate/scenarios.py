"""Rides worth having at hand, all invented: a university sports laboratory accepts four studio bikes for a study.

Each new bike is ridden once with the laboratory's own pedals as reference; other scenarios show one thing at a time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from wattwitness.model.recording import ChannelName, MeterRecord
from wattwitness.model.registry import Registry
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.clocks import Clock, RecorderPause
from wattwitness.simulate.defaults import trade
from wattwitness.simulate.efforts import Ease, Easy, Effort, GroupRide, Intervals, Mixed, Part, Ramp, Steady, Steps
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import (
    USUAL_CHANNELS,
    Dropouts,
    Meter,
    PowerSource,
    Sampling,
    Settling,
    exponential,
    mean_of,
)
from wattwitness.simulate.meters import HeartSensor as Heart
from wattwitness.simulate.ride import RideSpec
from wattwitness.simulate.rider import MOTOR, Rider


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One or more rides under one name; ``summary`` says in a sentence what they show."""

    name: str
    summary: str
    rides: tuple[RideSpec, ...]


WRIST = Heart(lag_s=trade("optical_lag_s"), scatter_bpm=trade("optical_scatter_bpm"))

PEDALS = Meter(
    name="pedals",
    noise_pct=trade("meter_noise_pct"),
    zero_nm=0.05,
    zero_nm_per_k=trade("zero_tempco_nm_per_k"),
    channels=(*USUAL_CHANNELS, ChannelName.LEFT_SHARE, ChannelName.TEMPERATURE),
    record=MeterRecord(product="laboratory pedals", firmware="3.2"),
)
"""The reference: dual-sided pedals with a little noise, logged with a heart-rate strap."""

BIKE = Meter(
    name="bike",
    loss_w=trade("transmission_loss_w"),
    loss_pct=trade("transmission_loss_pct"),
    gain=1.005,
    noise_pct=0.8,
    wander_pct=0.6,
    wander_tau_s=45.0,
    display=mean_of(3.0, delay_s=1.0),
    channels=(*USUAL_CHANNELS, ChannelName.SPEED),
    clock=Clock(offset_s=-7.4, drift_ppm=trade("clock_drift_ppm"), starts_s=6.0),
    record=MeterRecord(product="studio bike", firmware="1.04"),
)
"""A unit: it measures behind the belt, shows a 3 s mean a second late, and its clock is set by hand."""

ACCEPTANCE = Mixed(
    parts=(
        Part(effort=Easy(power_w=130.0), seconds=420.0),
        Part(effort=Steps(start_w=120.0, step_w=60.0, steps=4, step_s=90.0, cadences_rpm=(70.0, 90.0)), seconds=720.0),
        Part(effort=Intervals(on_s=40.0, off_s=50.0, on_w=310.0, off_w=120.0), seconds=540.0),
        Part(effort=Steady(power_w=220.0, cadence_rpm=88.0), seconds=420.0),
        Part(effort=GroupRide(mean_w=185.0), seconds=600.0),
    )
)
"""The laboratory's acceptance ride, 45 minutes: easy, steps at two cadences, intervals, steady, surges."""

_FIRST_UTC_S = 1_768_212_000.0  # a Monday morning in January
_DAY_S = 86_400.0


def _acceptance(letter: str, day: int, bike: Meter) -> RideSpec:
    named = replace(bike, record=replace(bike.record, product=f"studio bike {letter}"))
    return RideSpec(
        name=f"bike-{letter.lower()}",
        meters=(PEDALS, named),
        effort=ACCEPTANCE,
        duration_s=2700.0,
        start_utc_s=_FIRST_UTC_S + day * _DAY_S,
    )


_BIKE_A = BIKE
_BIKE_B = replace(BIKE, gain=0.975, settling=Settling(start_pct=-3.0, tau_min=4.0))
_BIKE_C = replace(
    BIKE,
    faults=(
        Fault(kind=FaultKind.DROP, start_s=1310.0, duration_s=210.0, depth_pct=-32.0, edge_s=4.0),
        Fault(kind=FaultKind.DROP, start_s=2190.0, duration_s=95.0, depth_pct=-24.0, edge_s=4.0),
    ),
)
_BIKE_D = replace(BIKE, crank_set_mm=165.0, crank_true_mm=172.5, wander_pct=3.0, wander_tau_s=90.0)

LABORATORY = tuple(
    _acceptance(letter, day, bike)
    for day, (letter, bike) in enumerate((("A", _BIKE_A), ("B", _BIKE_B), ("C", _BIKE_C), ("D", _BIKE_D)))
)
"""Bike A is good; B reads low and settles; C falls away for minutes; D has a wrong crank length and wanders."""


def _single(name: str, summary: str, effort: Effort, unit: Meter = BIKE, **changes: object) -> Scenario:
    spec = RideSpec(name=name, meters=(PEDALS, unit), effort=effort)
    return Scenario(name=name, summary=summary, rides=(replace(spec, **changes),))  # type: ignore[arg-type]


_PLAIN = Meter(name="bike", record=MeterRecord(product="studio bike"))
_EIGHT_BY_FOUR = Intervals(on_s=480.0, off_s=240.0, on_w=265.0, off_w=120.0, warm_up_s=600.0, repeats=4)
_HALF_MINUTES = Intervals(on_s=30.0, off_s=30.0, on_w=320.0, off_w=110.0)

SCENARIOS: Registry[Scenario] = Registry(
    "scenario",
    (
        Scenario(
            name="laboratory",
            summary="The acceptance ride of a studio bike that reads low and settles, with pedals as reference.",
            rides=(LABORATORY[1],),
        ),
        Scenario(
            name="four_bikes",
            summary="The acceptance rides of all four bikes: one good, one low, one that falls away, one set wrong.",
            rides=LABORATORY,
        ),
        Scenario(
            name="three_meters",
            summary="One group ride seen by pedals, a crank and the bike at once.",
            rides=(
                RideSpec(
                    name="three_meters",
                    meters=(
                        PEDALS,
                        Meter(name="crank", gain=1.012, noise_pct=1.0, clock=Clock(offset_s=2.3, drift_ppm=-9.0)),
                        BIKE,
                    ),
                    effort=GroupRide(),
                ),
            ),
        ),
        _single("steady", "One power for an hour: little to set the clocks by.", Steady()),
        _single("half_minutes", "30 s hard and 30 s easy for half an hour.", _HALF_MINUTES, duration_s=1800.0),
        _single(
            "equal_intervals",
            "30 s hard and 30 s easy by a motor rig, with nothing else to tell one minute from the next.",
            _HALF_MINUTES,
            rider=MOTOR,
            duration_s=1800.0,
        ),
        _single("long_intervals", "Four times eight minutes hard.", _EIGHT_BY_FOUR),
        _single("group_ride", "Surges, sprints and coasting in an order drawn by chance.", GroupRide()),
        _single("ramp", "Power climbing in a straight line for 20 minutes.", Ramp(), duration_s=1200.0),
        _single(
            "step_test",
            "Three minutes a step from 100 to 350 W, at 60, 80 and 100 rpm.",
            Steps(cadences_rpm=(60.0, 80.0, 100.0)),
            duration_s=3240.0,
        ),
        _single("easy", "An easy hour.", Easy()),
        _single("mixed", "A bit of everything.", Mixed()),
        Scenario(
            name="motor",
            summary="A motor at one power and cadence, no heart: no offset is better than another.",
            rides=(
                RideSpec(
                    name="motor",
                    meters=(
                        replace(PEDALS, channels=(ChannelName.POWER, ChannelName.CADENCE)),
                        replace(
                            _PLAIN,
                            noise_pct=0.8,
                            channels=(ChannelName.POWER, ChannelName.CADENCE),
                            clock=Clock(offset_s=12.0),
                        ),
                    ),
                    rider=MOTOR,
                ),
            ),
        ),
        _single(
            "perfect_but_late",
            "A perfect unit that shows a mean of 8 s.",
            GroupRide(),
            replace(_PLAIN, display=mean_of(8.0)),
        ),
        _single(
            "slow_display",
            "A display that follows with 4 s, cadence too.",
            GroupRide(),
            replace(BIKE, display=exponential(4.0), cadence_display=exponential(3.0)),
        ),
        _single(
            "falls_away",
            "A bike that loses a third for minutes while the effort goes on.",
            Mixed(),
            replace(_BIKE_C, name="bike"),
        ),
        _single(
            "rider_eases",
            "The rider eases off for three minutes; both meters are right.",
            Steady(power_w=220.0),
            eases=(Ease(start_s=1500.0, duration_s=180.0, share=0.65),),
        ),
        Scenario(
            name="reference_fails",
            summary="The pedals lose a third for two minutes; the bike is right.",
            rides=(
                RideSpec(
                    name="reference_fails",
                    meters=(
                        replace(
                            PEDALS,
                            faults=(
                                Fault(
                                    kind=FaultKind.DROP, start_s=1400.0, duration_s=120.0, depth_pct=-33.0, edge_s=3.0
                                ),
                            ),
                        ),
                        BIKE,
                    ),
                    effort=Mixed(),
                ),
            ),
        ),
        _single(
            "zero_not_set",
            "A crank whose zero is off by 1 N·m.",
            Steps(cadences_rpm=(60.0, 80.0, 100.0)),
            replace(_PLAIN, zero_nm=1.0),
            duration_s=3240.0,
        ),
        _single(
            "one_side_doubled",
            "A left-only crank under a rider whose left leg does 47 %.",
            Mixed(),
            replace(_PLAIN, one_sided=True),
            rider=Rider(left_share_pct=47.0),
        ),
        _single(
            "set_and_hold",
            "A bike with a set resistance that shows its maker's table while the brake warms and weakens.",
            Steps(start_w=110.0, step_w=40.0, steps=5, cadences_rpm=(70.0, 90.0)),
            replace(
                BIKE,
                source=PowerSource.TABLE,
                display=mean_of(1.0),
                channels=(*USUAL_CHANNELS, ChannelName.RESISTANCE),
            ),
            bike=ResistanceBike(),
            duration_s=2700.0,
        ),
        _single(
            "target_shown",
            "A bike that shows the power it was told to hold.",
            _EIGHT_BY_FOUR,
            replace(BIKE, source=PowerSource.TARGET, noise_pct=0.0, wander_pct=0.0),
        ),
        _single(
            "recorder_paused",
            "The bike's recorder is stopped twice and its time stamps never show it.",
            Mixed(),
            replace(
                BIKE,
                clock=Clock(
                    offset_s=4.6,
                    drift_ppm=-30.0,
                    pauses=(
                        RecorderPause(start_s=900.0, duration_s=83.0, shows_gap=False),
                        RecorderPause(start_s=2300.0, duration_s=41.0, shows_gap=False),
                    ),
                ),
            ),
        ),
        _single(
            "event_driven",
            "A recorder that writes only when something changes, with losses on the radio.",
            GroupRide(),
            replace(
                BIKE,
                sampling=Sampling(event_driven=True),
                dropouts=Dropouts(share=trade("dropout_share"), longest_s=round(trade("dropout_hold_s"))),
            ),
        ),
        _single(
            "power_alone",
            "A bike without cadence, and a wrist that measures heart rate late.",
            GroupRide(),
            replace(
                BIKE, channels=(ChannelName.POWER, ChannelName.HEART_RATE), heart_sensor=WRIST, display=mean_of(5.0)
            ),
        ),
        _single(
            "wandering",
            "A bike right on average that wanders by 4 % within minutes.",
            Mixed(),
            replace(BIKE, gain=1.02, wander_pct=4.0, wander_tau_s=120.0),
        ),
    ),
)
