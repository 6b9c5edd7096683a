"""Does the response come back: which meter is smooth, in what way, over how long, and how late?

Rides of 15 to 60 minutes with known smoothing, of changing and of steady effort, noise on both meters, wander, a gain
and a zero that are nobody's business here, gaps, and on some a fault of minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.truth.protocol import Claim, TruthTable, TruthTopic
from tests.truth.response_rides import CHANGING, Effort, MeterSpec, Smoothing, ride
from wattwitness.clock.response import fit_response
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import ResponseKind

RIGHT_S = 0.5
"""An estimate this near is right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A kind of pair: who is smooth (``unit`` or ``reference``), how, and the noise of the reference."""

    name: str
    smoothing: Smoothing
    shapes_s: tuple[float, float]
    on_unit: bool = True
    noise_pct: tuple[float, float] = (1.0, 4.0)
    efforts: tuple[Effort, ...] = CHANGING
    fault: bool = False


CELLS = (
    Cell(name="both prompt", smoothing="prompt", shapes_s=(0, 0)),
    Cell(name="both prompt, reference with 4 %", smoothing="prompt", shapes_s=(0, 0), noise_pct=(4, 4)),
    Cell(name="unit mean of 3 to 5 s", smoothing="mean", shapes_s=(3, 5)),
    Cell(name="unit mean of 6 to 12 s", smoothing="mean", shapes_s=(6, 12)),
    Cell(name="unit mean of 8 s, reference with 4 %", smoothing="mean", shapes_s=(8, 8), noise_pct=(4, 4)),
    Cell(name="unit exponential, 2 to 8 s", smoothing="exponential", shapes_s=(2, 8)),
    Cell(name="reference mean of 3 to 10 s", smoothing="mean", shapes_s=(3, 10), on_unit=False),
    Cell(name="unit mean of 3 to 8 s, fault of minutes", smoothing="mean", shapes_s=(3, 8), fault=True),
    Cell(name="steady effort, unit mean of 5 s", smoothing="mean", shapes_s=(5, 5), efforts=("steady",)),
    Cell(name="steady effort, both prompt", smoothing="prompt", shapes_s=(0, 0), efforts=("steady",)),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseJob:
    """One ride."""

    cell: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseOutcome:
    """What was found of one ride; errors are NaN where nothing was to be estimated or the kind is wrong."""

    cell: int
    kind_right: bool
    assessed: bool
    shape_error_s: float
    shape_covered: bool
    delay_error_s: float
    delay_covered: bool


def jobs(full: bool) -> list[ResponseJob]:
    """100 rides a cell in full."""
    return [ResponseJob(cell=cell, seed=seed) for cell in range(len(CELLS)) for seed in range(100 if full else 6)]


def _specs(generator: np.random.Generator, cell: Cell) -> tuple[MeterSpec, MeterSpec, int]:
    """Reference, unit, and by how much the unit is late beyond the kernels."""
    shape_s = float(generator.uniform(*cell.shapes_s))
    if cell.smoothing == "mean":
        shape_s = float(round(shape_s))
    delay_s = int(generator.integers(0, 5)) if generator.random() < 0.5 else 0
    noise_pct = float(generator.uniform(*cell.noise_pct))
    unit = MeterSpec(
        smoothing=cell.smoothing if cell.on_unit else "prompt",
        shape_s=shape_s if cell.on_unit else 0.0,
        delay_s=delay_s,
        gain=float(generator.uniform(0.8, 1.2)),
        zero_w=float(generator.uniform(-8, 8)),
        noise_pct=float(generator.uniform(0.5, 2.5)),
        wander_pct=float(generator.uniform(0, 2)),
        wander_tau_s=float(generator.choice([5, 40, 120])),
    )
    reference = MeterSpec(
        smoothing="prompt" if cell.on_unit else cell.smoothing,
        shape_s=0.0 if cell.on_unit else shape_s,
        noise_pct=noise_pct,
    )
    return reference, unit, delay_s


def _spoilt(generator: np.random.Generator, series: FloatArray, *, fault: bool) -> FloatArray:
    """With some gaps, and a stretch of minutes at 60 % where there is a fault."""
    series = series.copy()
    for _ in range(int(generator.integers(0, 4))):
        start = int(generator.integers(0, series.size - 40))
        series[start : start + int(generator.integers(1, 30))] = np.nan
    if fault:
        start = int(generator.integers(0, series.size - 240))
        series[start : start + 180] *= 0.6
    return series


def judge(job: ResponseJob) -> ResponseOutcome:
    """Make the ride, fit, compare with the truth."""
    cell = CELLS[job.cell]
    generator = np.random.default_rng([71, job.cell, job.seed])
    reference_spec, unit_spec, delay_s = _specs(generator, cell)
    effort = cell.efforts[int(generator.integers(len(cell.efforts)))]
    minutes = float(generator.choice([15, 30, 60]))
    reference_w, unit_w = ride(10_000 * job.cell + job.seed, effort, minutes, reference_spec, unit_spec)
    unit_w = _spoilt(generator, unit_w, fault=cell.fault)
    fit = fit_response(reference_w, unit_w, clock_channel=ChannelName.CADENCE)
    smooth = fit.unit if cell.on_unit else fit.reference
    right = smooth.kind == ResponseKind(cell.smoothing)
    shape = smooth.width_s if cell.smoothing == "mean" else smooth.tau_s
    truth_s = unit_spec.shape_s if cell.on_unit else reference_spec.shape_s
    late = fit.unit.delay_s if fit.unit.delay_s.assessed else fit.reference.delay_s
    sign = 1 if fit.unit.delay_s.assessed else -1
    shape_error_s, shape_covered = _against(shape, truth_s) if right else (np.nan, False)
    delay_error_s, delay_covered = _against(late, sign * delay_s) if right else (np.nan, False)
    return ResponseOutcome(
        cell=job.cell,
        kind_right=right,
        assessed=fit.unit.kind is not ResponseKind.NOT_ASSESSED,
        shape_error_s=shape_error_s,
        shape_covered=shape_covered,
        delay_error_s=delay_error_s,
        delay_covered=delay_covered,
    )


def _against(estimate: Estimate, truth: float) -> tuple[float, bool]:
    """Error and whether the interval covers; NaN and no where nothing was estimated."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return np.nan, False
    return estimate.value - truth, estimate.low <= truth <= estimate.high


def tabulate(outcomes: Sequence[ResponseOutcome], full: bool) -> TruthTable:
    """One row a cell."""
    rows = tuple(_row(cell, [outcome for outcome in outcomes if outcome.cell == cell]) for cell in range(len(CELLS)))
    return TruthTable(
        title="The response of each meter",
        columns=(
            "pair",
            "rides",
            "kind right",
            "not assessed",
            "kind wrong",
            "shape, 95 % of errors within",
            "shape intervals that cover",
            "delay, 95 % of errors within",
            "delay intervals that cover",
        ),
        rows=rows,
        claims=_claims(outcomes, full),
        notes=(
            (
                "Rides of 15, 30 or 60 min; gaps; wander of up to 2 %; a gain of 0.8 to 1.2 and a zero of up to 8 W "
                "that must not disturb. Delays of 0 to 4 s. The clock is true."
            ),
        ),
    )


def _row(cell: int, found: Sequence[ResponseOutcome]) -> tuple[str, ...]:
    shapes = [outcome for outcome in found if np.isfinite(outcome.shape_error_s)]
    delays = [outcome for outcome in found if np.isfinite(outcome.delay_error_s)]
    wrong = sum(outcome.assessed and not outcome.kind_right for outcome in found)
    return (
        CELLS[cell].name,
        str(len(found)),
        str(sum(outcome.kind_right for outcome in found)),
        str(sum(not outcome.assessed for outcome in found)),
        str(wrong),
        _within([outcome.shape_error_s for outcome in shapes]),
        _share([outcome.shape_covered for outcome in shapes]),
        _within([outcome.delay_error_s for outcome in delays]),
        _share([outcome.delay_covered for outcome in delays]),
    )


def _within(errors_s: Sequence[float]) -> str:
    return f"{np.quantile(np.abs(errors_s), 0.95):.2f} s" if errors_s else ""


def _share(held: Sequence[bool]) -> str:
    return f"{100 * np.mean(held):.1f} %" if held else ""


def _claims(outcomes: Sequence[ResponseOutcome], full: bool) -> tuple[Claim, ...]:
    """Promises; a small sample has to allow for its chance."""
    changing = [outcome for outcome in outcomes if "steady" not in CELLS[outcome.cell].name]
    right = float(np.mean([outcome.kind_right for outcome in changing]))
    wrong = float(np.mean([outcome.assessed and not outcome.kind_right for outcome in outcomes]))
    shapes = [outcome for outcome in outcomes if np.isfinite(outcome.shape_error_s)]
    near = float(np.mean([abs(outcome.shape_error_s) <= RIGHT_S for outcome in shapes]))
    covered = float(np.mean([outcome.shape_covered for outcome in shapes]))
    delays = [outcome for outcome in outcomes if np.isfinite(outcome.delay_error_s)]
    late = float(np.mean([abs(outcome.delay_error_s) <= RIGHT_S for outcome in delays]))
    late_covered = float(np.mean([outcome.delay_covered for outcome in delays]))
    slack = 0.0 if full else 0.04
    return (
        Claim(
            text="Where the effort changes, who is smooth and how is right on at least 95 % of rides.",
            seen=f"{100 * right:.1f} % of {len(changing)}",
            held=right >= 0.95 - slack,
        ),
        Claim(
            text="At most 2 % of rides get a wrong answer; the others that are not right are not assessed.",
            seen=f"{100 * wrong:.1f} %",
            held=wrong <= 0.02 + slack,
        ),
        Claim(
            text=f"Widths and time constants are right within {RIGHT_S} s on at least 95 %.",
            seen=f"{100 * near:.1f} % of {len(shapes)}",
            held=near >= 0.95 - slack,
        ),
        Claim(
            text="Their 95 % intervals cover on at least 92 %.",
            seen=f"{100 * covered:.1f} %",
            held=covered >= 0.92 - slack,
        ),
        Claim(
            text=f"Delays are right within {RIGHT_S} s on at least 95 %, their intervals covering.",
            seen=f"{100 * late:.1f} % of {len(delays)}, {100 * late_covered:.1f} % covering",
            held=late >= 0.95 - slack and late_covered >= 0.92 - slack,
        ),
    )


TOPIC = TruthTopic(name="response", jobs=jobs, judge=judge, tabulate=tabulate)
