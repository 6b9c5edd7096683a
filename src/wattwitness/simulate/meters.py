"""What a meter makes of the true ride: its systematic errors, its chance errors, its display, its samples."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, MeterRecord
from wattwitness.model.response import ResponseKind
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.clocks import Clock
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.faults import Fault
from wattwitness.simulate.rider import TrueRide
from wattwitness.simulate.signals import RATE_HZ, box_mean, decay, decay_line, recursion, wander


class PowerSource(StrEnum):
    """Where a meter's power comes from: a sensor, the maker's table over cadence and level, or the target it set."""

    SENSOR = "sensor"
    TABLE = "table"
    TARGET = "target"


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """How what is shown follows what is sensed; the width and the time constant in seconds, the delay beyond both.

    Every sample is at least the mean of the second before it (``prompt``). ``mean`` is the trailing mean of
    ``width_s`` seconds; ``exponential`` goes from one-second mean to one-second mean with exp(-1 s / tau).
    """

    kind: ResponseKind = ResponseKind.PROMPT
    width_s: float = 1.0
    tau_s: float = 0.0
    delay_s: float = 0.0


def mean_of(width_s: float, delay_s: float = 0.0) -> Display:
    """A display that shows the mean of the last ``width_s`` seconds, ``delay_s`` late."""
    return Display(kind=ResponseKind.MEAN, width_s=width_s, delay_s=delay_s)


def exponential(tau_s: float, delay_s: float = 0.0) -> Display:
    """A display that follows exponentially with ``tau_s``, ``delay_s`` late."""
    return Display(kind=ResponseKind.EXPONENTIAL, tau_s=tau_s, delay_s=delay_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settling:
    """A bias of ``start_pct`` at the start that dies away with ``tau_min``."""

    start_pct: float
    tau_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartSensor:
    """A heart-rate sensor that lags by ``lag_s`` (first order) and scatters by ``scatter_bpm``; a strap by default."""

    lag_s: float = 0.5
    scatter_bpm: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """Every ``step_s`` on the recorder's clock, each up to ``jitter_s`` late; or only when something changed."""

    step_s: float = 1.0
    jitter_s: float = 0.0
    event_driven: bool = False
    longest_s: int = 8

    def __post_init__(self) -> None:
        """Refuse samples that could overtake each other. Raises ValueError."""
        if self.step_s <= 0.0 or not 0.0 <= self.jitter_s < self.step_s:
            raise ValueError("samples need a step above 0, and a jitter smaller than that")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropouts:
    """``share`` of samples lost in pieces of 1 to ``longest_s`` seconds; ``held``: the last value is repeated."""

    share: float
    longest_s: int = 5
    held: bool = False


USUAL_CHANNELS = (ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A meter, its recorder and its clock. A default ``Meter`` is perfect but for being rounded to 1 W and 1 rpm.

    Systematic: ``gain`` multiplies; ``loss_w`` and ``loss_pct`` of power are lost before a meter behind the
    transmission; ``zero_nm`` is a torque that it adds while the cranks turn, and grows by ``zero_nm_per_k`` with the
    room's warming; a crank length set wrong multiplies by set over true; ``per_100_w_pct`` and ``per_10_rpm_pct`` are
    changes of bias away from 200 W and 80 rpm; ``one_sided`` doubles the left leg. By chance: ``noise_pct`` from second
    to second, and a wander of ``wander_pct`` with time ``wander_tau_s``, both with mean zero.
    """

    name: str
    source: PowerSource = PowerSource.SENSOR
    gain: float = 1.0
    loss_w: float = 0.0
    loss_pct: float = 0.0
    zero_nm: float = 0.0
    zero_nm_per_k: float = 0.0
    crank_set_mm: float = 172.5
    crank_true_mm: float = 172.5
    per_100_w_pct: float = 0.0
    per_10_rpm_pct: float = 0.0
    one_sided: bool = False
    settling: Settling | None = None
    noise_pct: float = 0.0
    wander_pct: float = 0.0
    wander_tau_s: float = 60.0
    display: Display = Display()
    cadence_display: Display = Display()
    heart_sensor: HeartSensor = HeartSensor()
    sampling: Sampling = Sampling()
    dropouts: Dropouts | None = None
    power_step_w: float = 1.0
    cadence_step_rpm: float = 1.0
    channels: tuple[ChannelName, ...] = USUAL_CHANNELS
    clock: Clock = field(default_factory=Clock)
    faults: tuple[Fault, ...] = ()
    record: MeterRecord = field(default_factory=MeterRecord)


def systematic_w(meter: Meter, ride: TrueRide, bike: ResistanceBike | None) -> FloatArray:
    """What the meter's sensor would say without chance and without faults, W on the time line.

    Raises ValueError for a table without a bike.
    """
    if meter.source is PowerSource.TARGET:
        return ride.target_w.copy()
    if meter.source is PowerSource.TABLE:
        if bike is None:
            raise ValueError(f"{meter.name} reads a table, which needs a bike with set resistance")
        sensed = np.where(ride.power_w > 0.0, bike.table_w(ride.cadence_rpm, ride.resistance), 0.0)
    else:
        sensed = 2.0 * ride.left_share_pct / 100.0 * ride.power_w if meter.one_sided else ride.power_w
        lost = np.where(sensed > 0.0, meter.loss_w + meter.loss_pct / 100.0 * sensed, 0.0)
        zero_nm = meter.zero_nm + meter.zero_nm_per_k * (ride.temperature_c - ride.temperature_c[0])
        sensed = sensed - lost + zero_nm * ride.cadence_rpm * (math.pi / 30.0)
    factor = meter.gain * meter.crank_set_mm / meter.crank_true_mm * np.ones(sensed.size)
    if meter.per_100_w_pct or meter.per_10_rpm_pct:
        bent = meter.per_100_w_pct * (ride.power_w - 200.0) / 100.0
        bent = bent + meter.per_10_rpm_pct * (ride.cadence_rpm - 80.0) / 10.0
        factor = factor * (1.0 + bent / 100.0)
    if meter.settling is not None:
        dying = decay_line(sensed.size, meter.settling.tau_min * 60.0)
        factor = factor * (1.0 + meter.settling.start_pct / 100.0 * dying)
    return np.asarray(np.maximum(sensed * factor, 0.0))


def chance_factor(meter: Meter, size: int, seed: int) -> FloatArray:
    """1 plus the meter's wander and noise, on the time line."""
    factor = 1.0 + wander(Draws(seed, f"{meter.name} wander"), size, meter.wander_pct / 100.0, meter.wander_tau_s)
    if meter.noise_pct > 0.0:
        spread = meter.noise_pct / 100.0 * math.sqrt(RATE_HZ)
        factor = factor + spread * Draws(seed, f"{meter.name} noise").normal(size)
    return factor


def shown(display: Display, sensed: FloatArray) -> FloatArray:
    """What the display shows of what is sensed, on the time line, but for its delay."""
    if display.kind is ResponseKind.MEAN:
        return box_mean(sensed, max(round(display.width_s * RATE_HZ), 1))
    second = box_mean(sensed, RATE_HZ)
    if display.kind is ResponseKind.EXPONENTIAL:
        factor = decay(display.tau_s, 1.0)
        return np.asarray(second[0] + recursion((1.0 - factor) * (second - second[0]), factor, RATE_HZ))
    return second


def heart_seen(sensor: HeartSensor, heart_rate_bpm: FloatArray, draws: Draws) -> FloatArray:
    """Heart rate as the sensor has it, bpm on the time line."""
    factor = decay(sensor.lag_s)
    late = heart_rate_bpm[0] + recursion((1.0 - factor) * (heart_rate_bpm - heart_rate_bpm[0]), factor)
    return np.asarray(late + wander(draws, late.size, sensor.scatter_bpm, 10.0))
