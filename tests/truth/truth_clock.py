"""Do offset, drift and jumps come back, do their intervals hold, and is a clock that cannot be told never used?

One-hour rides of mixed kinds on two clocks up to ten minutes and 150 ppm apart, with gaps, dropouts, a bias of up to
25 % and displays that smooth by up to 8 s; and rides that fit many offsets, or none.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.truth.clock_rides import FINE_S, KINDS, Effort, Recorder, record, ride
from tests.truth.protocol import Claim, TruthTable, TruthTopic
from wattwitness.clock.fit import fit_clock
from wattwitness.model.clock import ClockStatus
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

HOUR_S = 3600.0
MARGIN_S = 900.0
POWER_ALONE = (ChannelName.POWER,)
WITHOUT_HEART = (ChannelName.POWER, ChannelName.CADENCE)
CLOSE_S, CLOSE_PPM, FAR_S = 0.15, 60.0, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockJob:
    """One ride of a cell."""

    cell: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockOutcome:
    """What was found of one ride; errors are NaN where nothing was estimated. ``display_s``: how late the unit shows
    the channel that the clock was read from."""

    cell: int
    status: ClockStatus
    offset_error_s: float
    offset_covered: bool
    drift_error_ppm: float
    drift_covered: bool
    jumps_right: bool
    display_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """Both recorders of one ride, and how late the unit shows the channel that matters."""

    reference: Recorder
    unit: Recorder
    display_s: float = 0.0


def _recorders(rng: np.random.Generator) -> Pair:
    def gaps() -> tuple[tuple[float, float], ...]:
        return tuple((rng.uniform(60, 3300), rng.uniform(3, 60)) for _ in range(int(rng.integers(0, 4))))

    noise_rpm = rng.uniform(0.1, 0.8)
    reference = Recorder(cadence_noise_rpm=noise_rpm, power_noise=rng.uniform(0.005, 0.03), gaps=gaps())
    unit = Recorder(
        offset_s=rng.uniform(-600, 600),
        drift_ppm=rng.uniform(-150, 150),
        cadence_noise_rpm=noise_rpm,
        gain=1 + rng.uniform(-0.25, 0.25),
        power_noise=rng.uniform(0.005, 0.03),
        power_mean_s=float(rng.choice([0, 2, 3, 5, 8])),
        power_delay_s=float(rng.choice([0, 0, 1, 2])),
        heart_lag_s=rng.uniform(0, 12),
        dropout=float(rng.choice([0, 0, 0.02])),
        gaps=gaps(),
    )
    return Pair(reference=reference, unit=unit)


def _plain(rng: np.random.Generator) -> Pair:
    return _recorders(rng)


def _paused(rng: np.random.Generator) -> Pair:
    pair = _recorders(rng)
    stop = (float(rng.uniform(600, 3000)), float(rng.uniform(20, 500)))
    return replace(pair, unit=replace(pair.unit, stops=(stop,)))


def _smoothed(rng: np.random.Generator) -> Pair:
    pair = _recorders(rng)
    mean_s, tau_s = (float(rng.integers(3, 9)), 0.0) if rng.random() < 0.5 else (0.0, float(rng.uniform(1.5, 6)))
    if rng.random() < 0.7:
        return replace(pair, unit=replace(pair.unit, cadence_mean_s=mean_s, cadence_tau_s=tau_s))
    return replace(pair, reference=replace(pair.reference, cadence_mean_s=mean_s, cadence_tau_s=tau_s))


def _power_alone(rng: np.random.Generator) -> Pair:
    pair = _recorders(rng)
    late_s = pair.unit.power_mean_s / 2 + pair.unit.power_delay_s
    return Pair(
        reference=replace(pair.reference, channels=POWER_ALONE),
        unit=replace(pair.unit, channels=POWER_ALONE),
        display_s=late_s,
    )


def _mixed_ride(rng: np.random.Generator) -> tuple[Effort, Effort]:
    effort = ride(KINDS[int(rng.integers(len(KINDS)))], rng)
    return effort, effort


def _constant(rng: np.random.Generator) -> tuple[Effort, Effort]:
    n = int((HOUR_S + 2 * MARGIN_S) / FINE_S)
    effort = Effort(
        power_w=np.full(n, 200.0), cadence_rpm=np.full(n, rng.uniform(80, 95)), heart_rate_bpm=np.full(n, 140.0)
    )
    return effort, effort


def _equal_intervals(rng: np.random.Generator) -> tuple[Effort, Effort]:
    n = int((HOUR_S + 2 * MARGIN_S) / FINE_S)
    hard = (np.arange(n) * FINE_S) % 60 < 30
    rpm = rng.uniform(2, 10)
    effort = Effort(
        power_w=np.where(hard, 300.0, 120.0), cadence_rpm=np.where(hard, 85 + rpm, 85), heart_rate_bpm=np.full(n, 140.0)
    )
    return effort, effort


def _unrelated(rng: np.random.Generator) -> tuple[Effort, Effort]:
    """Two rides of one kind, each by chance of its own: two riders on one plan are among them."""
    kind = KINDS[int(rng.integers(len(KINDS)))]
    return ride(kind, rng), ride(kind, rng)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A question: what was ridden, how it was recorded, how many rides in full and in the tests."""

    name: str
    efforts: Callable[[np.random.Generator], tuple[Effort, Effort]]
    recorders: Callable[[np.random.Generator], Pair]
    full: int = 200
    few: int = 5


def _without_heart(rng: np.random.Generator) -> Pair:
    pair = _recorders(rng)
    return replace(
        pair,
        reference=replace(pair.reference, channels=WITHOUT_HEART),
        unit=replace(pair.unit, channels=WITHOUT_HEART),
    )


PLAIN, PAUSED, SMOOTHED, POWER, CONSTANT, EQUAL, UNRELATED = range(7)
CELLS = (
    Cell(name="cadence shared, not smoothed", efforts=_mixed_ride, recorders=_plain),
    Cell(name="the same, and the unit's recorder and clock paused once", efforts=_mixed_ride, recorders=_paused),
    Cell(name="cadence smoothed on one side", efforts=_mixed_ride, recorders=_smoothed),
    Cell(name="power alone", efforts=_mixed_ride, recorders=_power_alone),
    Cell(name="constant effort", efforts=_constant, recorders=_without_heart, full=100, few=3),
    Cell(name="equal 30/30 s and nothing else", efforts=_equal_intervals, recorders=_without_heart, full=100, few=3),
    Cell(name="two unrelated rides", efforts=_unrelated, recorders=_plain, full=200, few=4),
)


def jobs(full: bool) -> list[ClockJob]:
    """All rides of all cells."""
    return [
        ClockJob(cell=number, seed=seed)
        for number, cell in enumerate(CELLS)
        for seed in range(cell.full if full else cell.few)
    ]


def judge(job: ClockJob) -> ClockOutcome:
    """Ride, record, find the clock, compare with the truth."""
    rng = np.random.default_rng([53, job.cell, job.seed])
    cell = CELLS[job.cell]
    first, second = cell.efforts(rng)
    pair = cell.recorders(rng)
    clock = fit_clock(record(first, pair.reference, rng), record(second, pair.unit, rng))
    stopped_s = sum(seconds for start, seconds in pair.unit.stops if start < HOUR_S / 2)
    offset_error_s, offset_covered = _against(clock.offset_s, pair.unit.offset_s + stopped_s)
    drift_error_ppm, drift_covered = _against(clock.drift_ppm, pair.unit.drift_ppm)
    return ClockOutcome(
        cell=job.cell,
        status=clock.status,
        offset_error_s=offset_error_s,
        offset_covered=offset_covered,
        drift_error_ppm=drift_error_ppm,
        drift_covered=drift_covered,
        jumps_right=_same_jumps([jump.step_s.value for jump in clock.jumps], [step for _, step in pair.unit.stops]),
        display_s=pair.display_s,
    )


def _same_jumps(found_s: Sequence[float | None], true_s: Sequence[float]) -> bool:
    """As many as there are, each step within a second."""
    if len(found_s) != len(true_s):
        return False
    return all(found is not None and abs(found - true) < 1 for found, true in zip(found_s, true_s, strict=True))


def _against(estimate: Estimate, truth: float) -> tuple[float, bool]:
    """Error and whether the interval covers; NaN and no where nothing was estimated."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return float("nan"), False
    return estimate.value - truth, estimate.low <= truth <= estimate.high


def tabulate(outcomes: Sequence[ClockOutcome], full: bool) -> TruthTable:
    """One row a cell."""
    by_cell = [[outcome for outcome in outcomes if outcome.cell == number] for number in range(len(CELLS))]
    return TruthTable(
        title="One clock",
        columns=(
            "ride",
            "rides",
            "found",
            "found with delay",
            "ambiguous",
            "no common effort",
            "offset, 95 % of errors within",
            "offset intervals that cover",
            "drift, 95 % of errors within",
            "drift intervals that cover",
            "jumps right",
        ),
        rows=tuple(_row(number, found) for number, found in enumerate(by_cell)),
        claims=_claims(by_cell, full),
        notes=(
            (
                "One hour at one sample a second, each meter at whole seconds of its own clock; offsets to ±600 s, "
                "drift to ±150 ppm, bias to ±25 %, power shown as a mean of up to 8 s and up to 2 s late, gaps, "
                "dropouts. Made apart from the package's simulator."
            ),
        ),
    )


def _row(number: int, found: Sequence[ClockOutcome]) -> tuple[str, ...]:
    counts = [
        str(sum(outcome.status is status for outcome in found))
        for status in (
            ClockStatus.FOUND,
            ClockStatus.FOUND_WITH_DELAY,
            ClockStatus.AMBIGUOUS,
            ClockStatus.NO_COMMON_EFFORT,
        )
    ]
    measured = [outcome for outcome in found if np.isfinite(outcome.offset_error_s)]
    if number >= CONSTANT or not measured:
        return (CELLS[number].name, str(len(found)), *counts, "", "", "", "", "")
    drifts = [outcome for outcome in measured if np.isfinite(outcome.drift_error_ppm)]
    return (
        CELLS[number].name,
        str(len(found)),
        *counts,
        f"{np.quantile(np.abs([outcome.offset_error_s for outcome in measured]), 0.95):.2f} s",
        _percent([outcome.offset_covered for outcome in measured]),
        f"{np.quantile(np.abs([outcome.drift_error_ppm for outcome in drifts]), 0.95):.0f} ppm" if drifts else "",
        _percent([outcome.drift_covered for outcome in drifts]),
        _percent([outcome.jumps_right for outcome in found]),
    )


def _percent(held: Sequence[bool]) -> str:
    return f"{100 * np.mean(held):.1f} %" if held else ""


def _share_claim(text: str, held: Sequence[bool], least: float, full: bool) -> Claim:
    """A share of rides; a small sample may miss by as many rides as chance lets one in a thousand miss by."""
    least_seen = least if full else least - 3 * np.sqrt(least * (1 - least) / len(held)) - 0.05
    return Claim(text=text, seen=f"{_percent(held)} of {len(held)} rides", held=bool(np.mean(held) >= least_seen))


def _claims(by_cell: Sequence[Sequence[ClockOutcome]], full: bool) -> tuple[Claim, ...]:
    plain, smoothed, power = by_cell[PLAIN], by_cell[SMOOTHED], by_cell[POWER]
    steady = [*by_cell[CONSTANT], *by_cell[EQUAL]]
    off = [
        outcome
        for found in by_cell[: POWER + 1]
        for outcome in found
        if outcome.status is ClockStatus.FOUND and not abs(outcome.offset_error_s) <= FAR_S
    ]
    within_s = [abs(outcome.offset_error_s) <= CLOSE_S for outcome in plain]
    within_ppm = [abs(outcome.drift_error_ppm) <= CLOSE_PPM for outcome in plain]
    within_delay = [-outcome.display_s - 0.3 <= outcome.offset_error_s <= outcome.display_s + 0.3 for outcome in power]
    unused = [not outcome.status.usable for outcome in by_cell[UNRELATED]]
    return (
        _share_claim("Offset within 0.15 s on 95 % of rides with a cadence not smoothed.", within_s, 0.95, full),
        _share_claim("Drift within 60 ppm on 95 % of them.", within_ppm, 0.95, full),
        _share_claim(
            "Their offset intervals cover, 95 % less two standard errors.",
            [outcome.offset_covered for outcome in plain],
            0.95 - 0.031,
            full,
        ),
        _share_claim("One pause is found as one jump on 90 %.", [o.jumps_right for o in by_cell[PAUSED]], 0.9, full),
        _share_claim(
            "With a smoothed cadence the intervals still cover.",
            [outcome.offset_covered for outcome in smoothed],
            0.95 - 0.031,
            full,
        ),
        _share_claim(
            "With power alone it is found with a delay.",
            [outcome.status is ClockStatus.FOUND_WITH_DELAY for outcome in power],
            0.95,
            full,
        ),
        _share_claim("With power alone it is right to within the display's delay on 90 %.", within_delay, 0.9, full),
        Claim(text="Never off by more than 2 s while found.", seen=f"{len(off)} rides", held=not off),
        _share_claim(
            "Constant effort and equal intervals are ambiguous.",
            [outcome.status is ClockStatus.AMBIGUOUS for outcome in steady],
            1.0,
            True,
        ),
        _share_claim("Two unrelated rides are put on one clock on at most 1 %.", unused, 0.99, full),
    )


TOPIC = TruthTopic(name="clock", jobs=jobs, judge=judge, tabulate=tabulate)
