"""What does one recording alone find of a drop, how much is lost where less is logged, and what does it invent?

Bikes of four makes whose power rises with cadence and resistance in ways the fit does not know; displays of 1 to 6 s,
noise of 1 to 4 % a second, wander to 1 %, a brake that warms by up to 8 %; resistance in whole levels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.truth.alone_rides import EFFORTS, MAKES, AloneJob, Make, recorded
from tests.truth.protocol import Claim, TruthTable, TruthTopic
from wattwitness.faults.alone.find import find_alone
from wattwitness.faults.alone.ride import ride_of
from wattwitness.model.episodes import Episode, EpisodeKind, Finding
from wattwitness.model.settings import AloneSettings

LOGGED = ("all", "no heart", "held resistance", "no resistance", "cadence alone", "power and heart", "power alone")
WHAT = {
    "all": "cadence, resistance, heart rate",
    "no heart": "cadence, resistance",
    "held resistance": "cadence, one resistance held",
    "no resistance": "cadence, heart rate",
    "cadence alone": "cadence",
    "power and heart": "heart rate",
    "power alone": "nothing",
}
DROP_PCT, DROP_S = -20.0, 60.0
LEAST_FOUND_PCT = 90.0
MOST_FALSE_PER_20_H = 1.0


RIDES_NOTE = (
    "An hour each: mixed, group and easy rides, half-minute and long intervals, steps, one steady effort. Rides that "
    "hold levels: steady, long intervals, steps. A drop counts as found where half of it is told as a drop or step "
    "with the finding unit or undetermined; anything else so told is false."
)
LOST_NOTE = (
    "Without a logged resistance a rider who turns it down looks the same as a number that falls, so a fall is told "
    "only where a ride keeps to its levels and the fall stands out among the ride’s own changes."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AloneOutcome:
    """Whether the drop was found, how its onset (s) and depth (points) missed, and what else was told."""

    job: AloneJob
    found: bool
    late_s: float
    deep_pct: float
    false: int


def jobs(full: bool) -> list[AloneJob]:
    """Rides with one drop and clean ones: in full 84 of each for every way of logging, 168 clean ones with all."""
    if not full:
        some: list[tuple[str, Make]] = [
            ("group", "air"),
            ("mixed", "magnet"),
            ("half minutes", "friction"),
            ("steps", "eddy"),
        ]
        return [
            AloneJob(effort=effort, make=make, seed=40 + place, depth_pct=depth)
            for place, (effort, make) in enumerate(some)
            for depth in (DROP_PCT, 0.0)
        ] + [
            AloneJob(effort="steady", make="eddy", seed=50, depth_pct=DROP_PCT, logged=logged) for logged in LOGGED[2:]
        ]
    return [
        AloneJob(effort=effort, make=make, seed=seed, logged=logged, depth_pct=depth)
        for logged in LOGGED
        for depth in (DROP_PCT, 0.0)
        for effort in EFFORTS
        for make in MAKES
        for seed in range(6 if logged == "all" and not depth else 3)
    ]


def judge(job: AloneJob) -> AloneOutcome:
    """Look at the ride alone."""
    recording, start_s = recorded(job)
    found = find_alone(ride_of(recording), AloneSettings())
    told = [one for one in found.episodes if one.finding in (Finding.UNIT, Finding.UNDETERMINED)]
    hits = [one for one in told if job.depth_pct and _covers(one, start_s, job.duration_s)]
    best = max(hits, key=lambda one: -abs(one.start_s - start_s), default=None)
    depth = best.depth_pct.value if best is not None else None
    return AloneOutcome(
        job=job,
        found=best is not None,
        late_s=best.start_s - start_s if best is not None else np.nan,
        deep_pct=depth - job.depth_pct if depth is not None else np.nan,
        false=len(told) - len(hits),
    )


def _covers(episode: Episode, start_s: float, duration_s: float) -> bool:
    both = min(episode.end_s, start_s + duration_s) - max(episode.start_s, start_s)
    return episode.kind in (EpisodeKind.DROP, EpisodeKind.STEP) and both >= duration_s / 2


def tabulate(outcomes: Sequence[AloneOutcome], full: bool) -> TruthTable:
    """One row for each way of logging."""
    rows = []
    for logged in LOGGED:
        mine = [one for one in outcomes if one.job.logged == logged]
        dropped = [one for one in mine if one.job.depth_pct]
        clean = [one for one in mine if not one.job.depth_pct]
        rows.append((WHAT[logged], *_found(dropped), _false(clean)))
    return TruthTable(
        title="One recording alone: a drop of 20 % for 60 s",
        columns=(
            "logged beside power",
            "drops found",
            "on rides that hold levels",
            "onset late by, median",
            "depth off by, median size",
            "false, in clean hours",
        ),
        rows=tuple(rows),
        claims=_claims(outcomes, full),
        notes=(RIDES_NOTE, LOST_NOTE),
    )


def _found(dropped: Sequence[AloneOutcome]) -> tuple[str, str, str, str]:
    if not dropped:
        return "not run", "not run", "", ""
    held = [one for one in dropped if one.job.effort in ("steady", "long intervals", "steps")]
    hits = [one for one in dropped if one.found]
    return (
        f"{_percent(dropped):.0f} % of {len(dropped)}",
        f"{_percent(held):.0f} % of {len(held)}" if held else "",
        f"{np.median([one.late_s for one in hits]):+.1f} s" if hits else "",
        f"{np.median([abs(one.deep_pct) for one in hits]):.1f} points" if hits else "",
    )


def _percent(outcomes: Sequence[AloneOutcome]) -> float:
    return 100.0 * sum(one.found for one in outcomes) / max(len(outcomes), 1)


def _false(clean: Sequence[AloneOutcome]) -> str:
    hours = sum(one.job.minutes for one in clean) / 60.0
    return f"{sum(one.false for one in clean)} in {hours:.0f} h" if clean else "not run"


def _claims(outcomes: Sequence[AloneOutcome], full: bool) -> tuple[Claim, ...]:
    logged = [one for one in outcomes if one.job.logged in ("all", "no heart")]
    dropped, clean = ([one for one in logged if bool(one.job.depth_pct) is hit] for hit in (True, False))
    false = sum(one.false for one in clean)
    per_20 = 20.0 * false / max(sum(one.job.minutes for one in clean) / 60.0, 1e-9)
    hits = [one for one in dropped if one.found]
    onset = float(np.median([abs(one.late_s) for one in hits])) if hits else np.inf
    depth = float(np.median([abs(one.deep_pct) for one in hits])) if hits else np.inf
    held = [one for one in outcomes if one.job.logged == "held resistance" and one.job.depth_pct]
    return (
        Claim(
            text=f"With cadence and resistance logged, {LEAST_FOUND_PCT:.0f} % of drops of 20 % for 60 s are found.",
            seen=f"{_percent(dropped):.1f} % of {len(dropped)}",
            held=_percent(dropped) >= (LEAST_FOUND_PCT if full else 75.0),
        ),
        Claim(
            text="and at most one false episode is told in 20 clean hours.",
            seen=f"{per_20:.2f} in 20 h ({false} in all)",
            held=per_20 <= MOST_FALSE_PER_20_H if full else false == 0,
        ),
        Claim(
            text="Their onset is within 5 s and their depth within 3 points, in the median.",
            seen=f"{onset:.1f} s, {depth:.1f} points",
            held=onset <= 5.0 and depth <= 3.0,
        ),
        Claim(
            text=f"With one resistance held, {LEAST_FOUND_PCT:.0f} % are found too.",
            seen=f"{_percent(held):.1f} % of {len(held)}",
            held=_percent(held) >= LEAST_FOUND_PCT,
        ),
    )


TOPIC = TruthTopic(name="alone", jobs=jobs, judge=judge, tabulate=tabulate)
