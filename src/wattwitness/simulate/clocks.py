"""Each recorder's own clock: set wrong, running fast or slow, stopped for a while.

Laboratory time is the true time: ``start_utc_s`` plus the seconds after the start of the ride.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class RecorderPause:
    """A recorder stopped from ``start_s`` after the start of the ride for ``duration_s`` seconds.

    ``shows_gap``: its time stamps tell real time and leave a gap; otherwise they go on as if nothing had been, so that
    the clock jumps. ``announced``: the file says that the timer was stopped (only where the gap shows).
    """

    start_s: float
    duration_s: float
    shows_gap: bool = True
    announced: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """A recorder's clock against laboratory time.

    ``offset_s`` is what must be added to its stamps to get laboratory time at the middle of the ride, ``drift_ppm`` the
    change of that with time: negative where the clock runs fast. It records from ``starts_s`` to ``stops_s`` seconds
    after the start of the ride (``None``: to the end). ``dated``: stamps are UTC; otherwise they begin at 0.
    ``whole_seconds``: samples are taken at whole multiples of the sampling step on this clock.
    """

    offset_s: float = 0.0
    drift_ppm: float = 0.0
    starts_s: float = 0.0
    stops_s: float | None = None
    pauses: tuple[RecorderPause, ...] = ()
    dated: bool = True
    whole_seconds: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueJump:
    """The seconds to add change by ``step_s`` between ``at_s`` and ``until_s`` after the reference's first sample."""

    at_s: float
    until_s: float
    step_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """The recorder runs from ``start_s`` to ``end_s`` (true); its stamps are ``hidden_s`` behind its clock."""

    start_s: float
    end_s: float
    hidden_s: float


class RunningClock:
    """A ``Clock`` set going for one ride: true seconds after the start to stamps, and back."""

    def __init__(self, clock: Clock, *, start_utc_s: float, duration_s: float) -> None:
        """Set the clock going."""
        self.rate = 1.0 + clock.drift_ppm * 1e-6
        self._middle_s = duration_s / 2.0
        self._middle_stamp = start_utc_s + self._middle_s - clock.offset_s
        self._runs = _runs(clock, duration_s, self.rate)
        self._zero = 0.0

    @property
    def run_count(self) -> int:
        """How many stretches the recorder ran for."""
        return len(self._runs)

    def count_from(self, stamp: float) -> None:
        """Let the stamps begin at 0 where they read ``stamp``: a recording without a date."""
        self._zero = stamp

    def edges(self, run: int) -> tuple[float, float]:
        """First and last stamp that run number ``run`` could hold."""
        span = self._runs[run]
        return self._stamp(span, span.start_s), self._stamp(span, span.end_s)

    def true_in_run(self, run: int, stamp: FloatArray) -> FloatArray:
        """True seconds after the start of stamps in run number ``run``."""
        raw = stamp + self._zero + self._runs[run].hidden_s
        return self._middle_s + (raw - self._middle_stamp) * self.rate

    def stamp_at(self, true_s: float) -> float:
        """The stamp at a true time; in a pause, that of the run before it."""
        started = [run for run in self._runs if run.start_s <= true_s]
        return self._stamp(started[-1] if started else self._runs[0], true_s)

    def true_at(self, stamp: float) -> float:
        """The true time of a stamp; in a gap, by the run before it."""
        runs = [index for index in range(self.run_count) if self.edges(index)[0] <= stamp]
        return float(self.true_in_run(runs[-1] if runs else 0, np.array([stamp]))[0])

    def _stamp(self, run: _Run, true_s: float) -> float:
        return self._middle_stamp + (true_s - self._middle_s) / self.rate - run.hidden_s - self._zero


def _runs(clock: Clock, duration_s: float, rate: float) -> tuple[_Run, ...]:
    runs: list[_Run] = []
    start_s, hidden_s = clock.starts_s, 0.0
    stop_s = duration_s if clock.stops_s is None else min(clock.stops_s, duration_s)
    for pause in sorted(clock.pauses, key=lambda item: item.start_s):
        runs.append(_Run(start_s=start_s, end_s=pause.start_s, hidden_s=hidden_s))
        start_s = pause.start_s + pause.duration_s
        hidden_s += 0.0 if pause.shows_gap else pause.duration_s / rate
    runs.append(_Run(start_s=start_s, end_s=stop_s, hidden_s=hidden_s))
    if any(run.end_s <= run.start_s for run in runs):
        raise ValueError("a recorder's pauses must lie inside its recording and apart from each other")
    return tuple(runs)


def sample_stamps(
    running: RunningClock, *, step_s: float, phase_s: float, jitter_s: FloatArray
) -> tuple[FloatArray, IntArray]:
    """Stamps of all samples, in steps of ``step_s`` from ``phase_s`` on, each late by its jitter, and their runs.

    ``jitter_s`` has shape (m,) and is used in turn. Stamps are kept to a thousandth of a second, as files hold them.
    """
    stamps: list[FloatArray] = []
    runs: list[IntArray] = []
    for run in range(running.run_count):
        first, last = running.edges(run)
        count = np.arange(np.ceil((first - phase_s) / step_s), np.ceil((last - phase_s) / step_s))
        line = phase_s + count * step_s
        if jitter_s.size:
            line = line + jitter_s[np.arange(line.size) % jitter_s.size]
        line = np.round(line * 1000.0) / 1000.0
        stamps.append(line)
        runs.append(np.full(line.size, run, dtype=np.int64))
    return np.concatenate(stamps), np.concatenate(runs)


def true_jumps(
    reference: RunningClock, unit: RunningClock, pauses: Sequence[tuple[bool, RecorderPause]], first_stamp: float
) -> tuple[TrueJump, ...]:
    """Jumps of the seconds to add, from pauses that leave no gap; each pause says whether it is the reference's."""
    jumps = []
    for of_reference, pause in sorted(pauses, key=lambda item: item[1].start_s):
        if pause.shows_gap:
            continue
        end_s = pause.start_s + pause.duration_s
        at_s = reference.stamp_at(pause.start_s) - first_stamp
        if of_reference:
            jumps.append(TrueJump(at_s=at_s, until_s=at_s, step_s=-pause.duration_s / reference.rate))
        else:
            jumps.append(
                TrueJump(
                    at_s=at_s, until_s=reference.stamp_at(end_s) - first_stamp, step_s=pause.duration_s / unit.rate
                )
            )
    return tuple(jumps)
