"""What the rider sets out to do: target power, target cadence and coasting, before any of the rider's own variation.

Numbers of group rides (how long surges last, how often riders coast) are invented, and shaped after common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.simulate.draws import Draws
from wattwitness.simulate.signals import LEAD_S, RATE_HZ


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """Targets on the time line, shape (n,) each: power in W, cadence in rpm, and whether the rider coasts."""

    power_w: FloatArray
    cadence_rpm: FloatArray
    coasting: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """``seconds`` at one target; ``power_w`` 0 is coasting. ``end_w``: where the power has climbed to by its end."""

    seconds: float
    power_w: float
    cadence_rpm: float
    end_w: float | None = None


class Effort(Protocol):
    """Anything that says which stretches make up a ride of ``duration_s`` seconds."""

    def stretches(self, duration_s: float, draws: Draws, /) -> Sequence[Stretch]:
        """The stretches in order; what is missing to ``duration_s`` is filled with the last one."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Steady:
    """One power and one cadence throughout."""

    power_w: float = 200.0
    cadence_rpm: float = 85.0

    def stretches(self, duration_s: float, _draws: Draws, /) -> Sequence[Stretch]:
        """One stretch."""
        return (Stretch(seconds=duration_s, power_w=self.power_w, cadence_rpm=self.cadence_rpm),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intervals:
    """Hard and easy in turn, after a warm-up of ``warm_up_s`` seconds; fills the ride unless ``repeats`` is given."""

    on_s: float = 240.0
    off_s: float = 120.0
    on_w: float = 280.0
    off_w: float = 120.0
    on_rpm: float = 92.0
    off_rpm: float = 82.0
    warm_up_s: float = 0.0
    repeats: int | None = None

    def stretches(self, duration_s: float, _draws: Draws, /) -> Sequence[Stretch]:
        """Warm-up, then pairs of hard and easy, then easy to the end."""
        easy = Stretch(seconds=self.off_s, power_w=self.off_w, cadence_rpm=self.off_rpm)
        hard = Stretch(seconds=self.on_s, power_w=self.on_w, cadence_rpm=self.on_rpm)
        parts: list[Stretch] = []
        if self.warm_up_s > 0:
            parts.append(Stretch(seconds=self.warm_up_s, power_w=self.off_w, cadence_rpm=self.off_rpm))
        fitting = int((duration_s - self.warm_up_s) // (self.on_s + self.off_s)) + 1
        for _ in range(max(fitting, 1) if self.repeats is None else self.repeats):
            parts += [hard, easy]
        return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp:
    """Power climbing in a straight line from ``start_w`` to ``end_w`` over the ride."""

    start_w: float = 80.0
    end_w: float = 380.0
    cadence_rpm: float = 88.0

    def stretches(self, duration_s: float, _draws: Draws, /) -> Sequence[Stretch]:
        """One climbing stretch."""
        return (Stretch(seconds=duration_s, power_w=self.start_w, cadence_rpm=self.cadence_rpm, end_w=self.end_w),)


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """A step test: ``step_s`` seconds at each power from ``start_w`` up by ``step_w``, each cadence in turn."""

    start_w: float = 100.0
    step_w: float = 50.0
    steps: int = 6
    step_s: float = 180.0
    cadences_rpm: tuple[float, ...] = (80.0,)

    def stretches(self, duration_s: float, _draws: Draws, /) -> Sequence[Stretch]:
        """All steps at the first cadence, then all at the next, then from the start again."""
        block = [
            Stretch(seconds=self.step_s, power_w=self.start_w + step * self.step_w, cadence_rpm=cadence)
            for cadence in self.cadences_rpm
            for step in range(self.steps)
        ]
        return block * (int(duration_s // (len(block) * self.step_s)) + 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupRide:
    """Cruising, surges seated and standing, easy stretches, coasting and sprints, in an order drawn by chance."""

    mean_w: float = 190.0
    cadence_rpm: float = 86.0

    def stretches(self, duration_s: float, draws: Draws, /) -> Sequence[Stretch]:
        """Stretches until the ride is full."""
        parts: list[Stretch] = []
        filled = 0.0
        while filled < duration_s:
            part = self._stretch(draws)
            parts.append(part)
            filled += part.seconds
        return parts

    def _stretch(self, draws: Draws) -> Stretch:
        chance, length, height, turn = draws.uniform(4)
        kinds = (
            # chance up to, seconds, share of the mean power, rpm against the usual
            (0.40, (25.0, 110.0), (0.85, 1.20), (-4.0, 4.0)),  # cruising
            (0.58, (6.0, 35.0), (1.40, 2.20), (3.0, 12.0)),  # a surge in the saddle
            (0.68, (8.0, 30.0), (1.30, 2.00), (-22.0, -12.0)),  # a surge standing, in a bigger gear
            (0.82, (15.0, 70.0), (0.45, 0.75), (-8.0, 0.0)),  # easy
            (0.96, (3.0, 16.0), (0.0, 0.0), (0.0, 0.0)),  # coasting
            (1.01, (5.0, 12.0), (3.00, 4.20), (12.0, 28.0)),  # a sprint
        )
        seconds, share, cadence = next(kind[1:] for kind in kinds if chance < kind[0])
        return Stretch(
            seconds=seconds[0] + (seconds[1] - seconds[0]) * float(length),
            power_w=self.mean_w * (share[0] + (share[1] - share[0]) * float(height)),
            cadence_rpm=self.cadence_rpm + cadence[0] + (cadence[1] - cadence[0]) * float(turn),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Easy:
    """An easy ride: low power in stretches of a few minutes, now and then coasting."""

    power_w: float = 120.0
    cadence_rpm: float = 80.0

    def stretches(self, duration_s: float, draws: Draws, /) -> Sequence[Stretch]:
        """Stretches until the ride is full."""
        parts: list[Stretch] = []
        filled = 0.0
        while filled < duration_s:
            length, height, turn, stop = draws.uniform(4)
            parts.append(
                Stretch(
                    seconds=60.0 + 180.0 * float(length),
                    power_w=self.power_w * (0.8 + 0.4 * float(height)),
                    cadence_rpm=self.cadence_rpm - 6.0 + 12.0 * float(turn),
                )
            )
            parts.append(Stretch(seconds=4.0 + 8.0 * float(stop), power_w=0.0, cadence_rpm=0.0))
            filled += parts[-2].seconds + parts[-1].seconds
        return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a mixed ride."""

    effort: Effort
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """Several efforts one after the other."""

    parts: tuple[Part, ...] = (
        Part(effort=Easy(), seconds=480.0),
        Part(effort=Steps(start_w=120.0, step_w=40.0, steps=4, step_s=120.0), seconds=480.0),
        Part(effort=Intervals(on_s=30.0, off_s=30.0, on_w=300.0, off_w=110.0), seconds=480.0),
        Part(effort=Steady(power_w=210.0), seconds=720.0),
        Part(effort=GroupRide(), seconds=1440.0),
    )

    def stretches(self, _duration_s: float, draws: Draws, /) -> Sequence[Stretch]:
        """Each part cut to its length."""
        whole: list[Stretch] = []
        for part in self.parts:
            whole += fitted(part.effort.stretches(part.seconds, draws), part.seconds)
        return whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Ease:
    """The rider lets go from ``start_s`` for ``duration_s`` seconds: power falls to ``share`` of what was meant."""

    start_s: float
    duration_s: float
    share: float = 0.6
    cadence_share: float = 0.9


def fitted(parts: Sequence[Stretch], seconds: float) -> list[Stretch]:
    """``parts`` cut, or its last one stretched, to ``seconds`` in all."""
    kept: list[Stretch] = []
    filled = 0.0
    for index, part in enumerate(parts):
        room = seconds - filled
        if room <= 0:
            break
        length = room if index == len(parts) - 1 else min(part.seconds, room)
        end_w = part.end_w
        if end_w is not None and length < part.seconds:
            end_w = part.power_w + (end_w - part.power_w) * length / part.seconds
        kept.append(Stretch(seconds=length, power_w=part.power_w, cadence_rpm=part.cadence_rpm, end_w=end_w))
        filled += length
    return kept


def plan(effort: Effort, duration_s: float, size: int, eases: Sequence[Ease], draws: Draws) -> Plan:
    """Targets on the time line of ``size`` values; the lead is ridden at the first target."""
    power_w, cadence_rpm = np.zeros(size), np.zeros(size)
    start, clock_s = 0, 0.0
    parts = fitted(effort.stretches(duration_s, draws), duration_s)
    for index, part in enumerate(parts):
        clock_s += part.seconds
        end = size if index == len(parts) - 1 else (LEAD_S * RATE_HZ) + round(clock_s * RATE_HZ)
        cadence_rpm[start:end] = part.cadence_rpm
        power_w[start:end] = part.power_w
        if part.end_w is not None:
            first = max(start, LEAD_S * RATE_HZ)
            share = np.minimum((np.arange(end - first) + 1.0) / (part.seconds * RATE_HZ), 1.0)
            power_w[first:end] = part.power_w + (part.end_w - part.power_w) * share
        start = end
    for ease in eases:
        begin, stop = (round((LEAD_S + second) * RATE_HZ) for second in (ease.start_s, ease.start_s + ease.duration_s))
        power_w[begin:stop] *= ease.share
        cadence_rpm[begin:stop] *= ease.cadence_share
    return Plan(power_w=power_w, cadence_rpm=cadence_rpm, coasting=power_w <= 0.0)
