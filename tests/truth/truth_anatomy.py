"""Do zero and gain come back, do their intervals hold them, and are the right stories told?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.truth.agreement_rides import Effort
from tests.truth.anatomy_rides import AnatomyRide, TrueErrors, anatomy_ride
from tests.truth.protocol import Claim, TruthTable, TruthTopic
from wattwitness.agreement.overall import overall_bias
from wattwitness.agreement.stories.evidence import MeterFacts
from wattwitness.agreement.torque import compared_cadence
from wattwitness.agreement.why import RideForWhy, WhyTheyDiffer, why_they_differ
from wattwitness.clock.response import compared_unit_power, expected_power, fit_response
from wattwitness.model.recording import ChannelName

LEVEL = 0.95
ZERO_WITHIN_NM, GAIN_WITHIN_PCT = 0.05, 0.2
REFERENCE_UNCERTAINTY_PCT = 3.2
CRANK = MeterFacts(crank_set_mm=172.5, crank_true_mm=172.5)
SET_MM = (165.0, 167.5, 170.0, 175.0, 177.5, 180.0)
ZEROS_NM = (-2.0, -1.0, -0.3, 0.4, 1.0, 2.0)
GAINS_PCT = (-5.0, 0.0, 5.0)
DIFFERENCES = frozenset({"scale_error", "zero_not_taken", "crank_length", "one_side_doubled", "transmission_loss"})
EFFORTS_CLEAN: tuple[Effort, ...] = ("steps", "group", "intervals", "steady")


@dataclass(frozen=True, slots=True, kw_only=True)
class AnatomyJob:
    """One ride of one cell."""

    cell: str
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AnatomyOutcome:
    """Errors of the estimates (NaN: not assessed), whether the intervals held, the names of the allowed stories."""

    cell: str
    zero_off_nm: float
    gain_off_pct: float
    zero_held: bool
    gain_held: bool
    allowed: frozenset[str]


def jobs(full: bool) -> list[AnatomyJob]:
    """200 rides a cell in full, 500 where the share held is judged; zeros, gains, lengths and efforts in turn."""
    rides = {cell: (500 if cell in WANDERING else 200) if full else 6 for cell in CELLS}
    return [AnatomyJob(cell=cell, seed=seed) for cell in CELLS for seed in range(rides[cell])]


def errors_of(job: AnatomyJob) -> tuple[Effort, TrueErrors]:
    """The ride's effort and what is wrong with the unit."""
    zero, gain = ZEROS_NM[job.seed % len(ZEROS_NM)], GAINS_PCT[job.seed % len(GAINS_PCT)]
    in_turn = EFFORTS_CLEAN[job.seed % len(EFFORTS_CLEAN)]
    crank_pct = 100 * (SET_MM[job.seed % len(SET_MM)] / 172.5 - 1)
    made: dict[str, tuple[Effort, TrueErrors]] = {
        "steps, white noise": ("steps", TrueErrors(zero_nm=zero, gain_pct=gain)),
        "steps, 1 % wander": ("steps", TrueErrors(zero_nm=zero, gain_pct=gain, wander_pct=1.0)),
        "group, 1 % wander": ("group", TrueErrors(zero_nm=zero, gain_pct=gain, wander_pct=1.0)),
        "intervals, 1 % wander": ("intervals", TrueErrors(zero_nm=zero, gain_pct=gain, wander_pct=1.0)),
        "perfect, 8 s mean, group": ("group", TrueErrors(mean_s=8)),
        "crank length set wrong": ("steps", TrueErrors(gain_pct=crank_pct)),
        "zero alone": ("steps", TrueErrors(zero_nm=zero)),
        "clean": (in_turn, TrueErrors()),
        "clean, 1 % wander": (in_turn, TrueErrors(wander_pct=1.0)),
    }
    return made[job.cell]


NOTE = (
    "Steps are of three minutes from 100 to 350 W at 80, 65 and 95 rpm. White noise is 1.2 % a second on each meter, "
    f"wander has a time constant of 60 s. The reference's standard uncertainty is {REFERENCE_UNCERTAINTY_PCT} %. "
    "“Told” are the stories allowed on at least a tenth of the rides; intervals are never narrower than what rounding, "
    "clock and response leave, and so hold a little more often where there is nothing but white noise."
)
CELLS = (
    "steps, white noise",
    "steps, 1 % wander",
    "group, 1 % wander",
    "intervals, 1 % wander",
    "perfect, 8 s mean, group",
    "crank length set wrong",
    "zero alone",
    "clean",
    "clean, 1 % wander",
)
WANDERING = tuple(cell for cell in CELLS if cell.endswith("1 % wander") and not cell.startswith("clean"))


def why_of(ride: AnatomyRide, unit: MeterFacts | None = None) -> WhyTheyDiffer:
    """The whole chain from two powers on one grid: response, bias, then why they differ."""
    response = fit_response(ride.reference_w, ride.unit_w, clock_channel=ChannelName.CADENCE, level=LEVEL)
    expected, compared = expected_power(ride.reference_w, response), compared_unit_power(ride.unit_w, response)
    overall = overall_bias(expected, compared, level=LEVEL, reference_uncertainty_pct=REFERENCE_UNCERTAINTY_PCT, seed=1)
    return why_they_differ(
        RideForWhy(
            time_s=ride.time_s,
            reference_w=ride.reference_w,
            expected_w=expected,
            unit_w=compared,
            cadence_rpm=compared_cadence(ride.cadence_rpm, response, of_reference=True),
            response=response,
            reference_uncertainty_pct=REFERENCE_UNCERTAINTY_PCT,
            overall_pct=overall.bias_pct,
            recorded_unit_w=ride.unit_w,
            unit=unit or MeterFacts(),
        ),
        level=LEVEL,
    )


def judge(job: AnatomyJob) -> AnatomyOutcome:
    """Make the ride, take it apart, compare."""
    effort, errors = errors_of(job)
    ride = anatomy_ride(1000 * CELLS.index(job.cell) + job.seed, effort, errors)
    why = why_of(ride, CRANK if job.cell == "crank length set wrong" else None)
    zero, gain = why.anatomy.zero_nm, why.anatomy.gain_pct
    return AnatomyOutcome(
        cell=job.cell,
        zero_off_nm=np.nan if zero.value is None else zero.value - errors.zero_nm,
        gain_off_pct=np.nan if gain.value is None else gain.value - errors.gain_pct,
        zero_held=(zero.low or 0.0) <= errors.zero_nm <= (zero.high or 0.0),
        gain_held=(gain.low or 0.0) <= errors.gain_pct <= (gain.high or 0.0),
        allowed=frozenset(story.name for story in why.stories if story.allowed),
    )


def tabulate(outcomes: Sequence[AnatomyOutcome], full: bool) -> TruthTable:
    """One row a cell."""
    of = {cell: [one for one in outcomes if one.cell == cell] for cell in CELLS}
    return TruthTable(
        title="Zero, gain and stories",
        columns=("cell", "rides", "zero off, 95 % within", "gain off, 95 % within", "zero held", "gain held", "told"),
        rows=tuple(_row(cell, found) for cell, found in of.items()),
        claims=_claims(of, full),
        notes=(NOTE,),
    )


def _row(cell: str, found: Sequence[AnatomyOutcome]) -> tuple[str, ...]:
    zero = np.array([abs(one.zero_off_nm) for one in found])
    gain = np.array([abs(one.gain_off_pct) for one in found])
    names = sorted({name for one in found for name in one.allowed})
    told = [f"{name} {share:.0%}" for name in names if (share := _share(name in one.allowed for one in found)) >= 0.1]
    return (
        cell,
        str(len(found)),
        f"{np.nanquantile(zero, 0.95):.3f} N·m",
        f"{np.nanquantile(gain, 0.95):.2f} %",
        f"{_share(one.zero_held for one in found):.1%}",
        f"{_share(one.gain_held for one in found):.1%}",
        ", ".join(told),
    )


def _claims(of: dict[str, list[AnatomyOutcome]], full: bool) -> tuple[Claim, ...]:
    """A small sample may miss once or twice by chance."""
    most, least, high = (0.95, 0.92, 0.98) if full else (0.75, 0.62, 1.0)
    white = of["steps, white noise"]
    zero_right = _share(abs(one.zero_off_nm) <= ZERO_WITHIN_NM for one in white)
    gain_right = _share(abs(one.gain_off_pct) <= GAIN_WITHIN_PCT for one in white)
    held = [_share(one.zero_held for one in of[cell]) for cell in WANDERING]
    held += [_share(one.gain_held for one in of[cell]) for cell in WANDERING]
    perfect = _share(not one.allowed & DIFFERENCES for one in of["perfect, 8 s mean, group"])
    crank = _share(
        "crank_length" in one.allowed and "zero_not_taken" not in one.allowed for one in of["crank length set wrong"]
    )
    zero = _share(
        "zero_not_taken" in one.allowed and not one.allowed & {"crank_length", "scale_error"}
        for one in of["zero alone"]
    )
    clean = [_share(one.allowed == {"within_uncertainty"} for one in of[c]) for c in ("clean", "clean, 1 % wander")]
    return (
        Claim(
            text=f"On step rides with white noise a zero of −2 to +2 N·m comes back within {ZERO_WITHIN_NM} N·m and "
            f"the gain within {GAIN_WITHIN_PCT} %, each on at least {most:.0%} of rides.",
            seen=f"{zero_right:.1%} and {gain_right:.1%}",
            held=min(zero_right, gain_right) >= most,
        ),
        Claim(
            text=f"With 1 % of wander at 60 s their 95 % intervals hold on {least:.0%} to {high:.0%} of rides.",
            seen=f"{min(held):.1%} to {max(held):.1%}",
            held=least <= min(held) and max(held) <= high,
        ),
        Claim(
            text="A perfect unit with an 8 s mean on a group ride tells no story of a difference on at least "
            f"{most:.0%}.",
            seen=f"{perfect:.1%}",
            held=perfect >= most,
        ),
        Claim(
            text="A crank length set 2.5 mm or more off the one on record is among the stories allowed, and a zero "
            f"excluded, on at least {most:.0%} of rides of varied cadence with white noise.",
            seen=f"{crank:.1%}",
            held=crank >= most,
        ),
        Claim(
            text=f"A zero is among the stories allowed, and a gain excluded, on at least {most:.0%} of such rides.",
            seen=f"{zero:.1%}",
            held=zero >= most,
        ),
        Claim(
            text=f"On a clean ride nothing but “within uncertainty” is told on at least {most:.0%}.",
            seen=" and ".join(f"{share:.1%}" for share in clean),
            held=min(clean) >= most,
        ),
    )


def _share(held: Iterable[bool]) -> float:
    values = list(held)
    return sum(values) / max(len(values), 1)


TOPIC = TruthTopic(name="anatomy", jobs=jobs, judge=judge, tabulate=tabulate)
