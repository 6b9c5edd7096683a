"""Rides with one thing wrong, a second at a time, for every detector."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from tests.unit.witnesses.rides import ride_of
from wattwitness.faults.find import look_at
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.view import DetectorView
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockJump
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Pause, Recording
from wattwitness.model.settings import CompareSettings

SECONDS = 2400
FROM, TO = 1200, 1290


def effort_w(seed: int = 3, seconds: int = SECONDS) -> FloatArray:
    """A rider at 210 W with ups and downs over seconds and half minutes; whole watts."""
    generator = np.random.default_rng(seed)
    slow = np.repeat(generator.normal(0.0, 0.02, seconds // 30 + 1), 30)[:seconds]
    return np.asarray(np.round(210.0 * (1.0 + slow + 0.05 * generator.standard_normal(seconds))))


def shown_w(power_w: FloatArray, seed: int = 4, gain: float = 0.94) -> FloatArray:
    """What a unit with a gain error and a little noise shows of it; whole watts."""
    generator = np.random.default_rng(seed)
    return np.asarray(np.round(gain * power_w * (1.0 + 0.012 * generator.standard_normal(power_w.size))))


def cadence_rpm(seconds: int = SECONDS) -> FloatArray:
    """Steady legs."""
    return np.round(86.0 + 2.0 * np.sin(np.arange(seconds) / 9.0))


def ride(
    reference_w: FloatArray | None = None, unit_w: FloatArray | None = None, *, with_cadence: bool = True
) -> RideForFaults:
    """A ride of both, the unit as it should be unless given."""
    reference_w = effort_w() if reference_w is None else reference_w
    unit_w = shown_w(reference_w) if unit_w is None else unit_w
    cadence = {ChannelName.CADENCE: cadence_rpm(reference_w.size)} if with_cadence else {}
    return ride_of(reference_w, unit_w, reference=cadence, unit=cadence)


def changed(first: int, last: int, change: Callable[[FloatArray], FloatArray | float]) -> RideForFaults:
    """A ride whose unit shows something else from ``first`` to ``last``."""
    reference_w = effort_w()
    unit_w = shown_w(reference_w)
    unit_w[first:last] = change(unit_w[first:last])
    return ride(reference_w, unit_w)


def eased() -> RideForFaults:
    """The rider lets go for a minute and a half, and both meters show it."""
    reference_w = effort_w()
    reference_w[FROM:TO] = np.round(0.6 * reference_w[FROM:TO])
    return ride(reference_w)


def with_gap(made: RideForFaults, first: int, last: int, *, announced: bool = False) -> RideForFaults:
    """The unit's recorder writes nothing from ``first`` to ``last``."""
    recorded = made.recorded_unit
    kept = (recorded.time_s < first) | (recorded.time_s >= last)
    cut = Recording(
        source=recorded.source,
        time_s=recorded.time_s[kept],
        dated=False,
        channels={name: values[kept] for name, values in recorded.channels.items()},
        pauses=(Pause(start_s=float(first), end_s=float(last)),) if announced else (),
    )
    unit_w = np.where((made.time_s < first) | (made.time_s >= last), made.unit_w, np.nan)
    return replace(made, recorded_unit=cut, unit_w=unit_w)


def with_jump(made: RideForFaults, at_s: float, step_s: float) -> RideForFaults:
    """The clock's fit found a jump."""
    jump = ClockJump(
        at_s=Estimate(value=at_s, low=at_s - 2.0, high=at_s + 2.0, unit="s"),
        step_s=Estimate(value=step_s, low=step_s - 0.1, high=step_s + 0.1, unit="s"),
    )
    return replace(made, clock=replace(made.clock, jumps=(jump,)))


def nothing(seconds: int) -> RideForFaults:
    """Recordings in which nobody's power is known."""
    return ride_of(np.full(seconds, np.nan), np.full(seconds, np.nan))


def view_of(made: RideForFaults) -> DetectorView:
    """The ride as a detector first sees it."""
    return look_at(made, CompareSettings())


FAULTY: dict[str, Callable[[], RideForFaults]] = {
    "clock_jump": lambda: with_jump(ride(), float(FROM), 40.0),
    "missing": lambda: with_gap(ride(), FROM, TO),
    "zeros": lambda: changed(FROM, FROM + 20, lambda _: 0.0),
    "frozen": lambda: changed(FROM, TO, lambda power_w: float(power_w[0])),
    "spike": lambda: changed(FROM, FROM + 1, lambda _: 2500.0),
    "step": lambda: changed(FROM, SECONDS, lambda power_w: np.round(0.85 * power_w)),
    "drop": lambda: changed(FROM, TO, lambda power_w: np.round(0.8 * power_w)),
    "surge": lambda: changed(FROM, TO, lambda power_w: np.round(1.2 * power_w)),
    "easing": eased,
}
"""For each detector a ride with what it looks for, from ``FROM`` on."""
