"""Small print that goes with everything published: version, settings, hashes of the data, the claim and whose it is,
and what was left out.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from wattwitness.model.alone import AloneReport
from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.comparison import Comparison, PairComparison
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.section import Column, Table
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.model.study import Study
from wattwitness.words.estimates import counted
from wattwitness.words.names import clean
from wattwitness.words.numbers import quantity, stretch

PRIVATE = "Positions, serial numbers and names of riders in the files are left out."
LONGEST_SOURCE = 300
SHORT_HASH = 12
MOST_STRETCHES = 12
"""More of them than this are counted and not each named; the report names them all."""

OF_EACH_RIDE = ("offsets_s", "stretches_out")
"""Settings that a study's list states ride by ride."""

KNOWN = {
    ClaimStatus.STATED: "as stated by the tester",
    ClaimStatus.READ: "read in the document itself",
    ClaimStatus.SECONDARY: "known at second hand, not from the document itself",
}


def of_comparison(comparison: Comparison) -> tuple[str, ...]:
    """A line each."""
    pairs = comparison.pairs
    sources = [pairs[0].reference.source, *(pair.unit.source for pair in pairs)]
    roles = ["reference", *(f"unit {place}" if len(pairs) > 1 else "unit" for place in range(1, len(sources)))]
    return (
        f"Made by wattwitness {comparison.version}.",
        limit_words(comparison.settings.limit_pct),
        f"Settings: {settings_line(comparison.settings)}.",
        *(f"SHA-256, {role}: {source.sha256}" for role, source in zip(roles, sources, strict=True)),
        _left_of_comparison(comparison.settings, pairs, where=""),
    )


def of_statement(comparison: Comparison, pair: PairComparison) -> tuple[str, ...]:
    """The same for the page on the unit of ``pair``, which is handed on without the report."""
    sources = (("reference", pair.reference.source), ("unit", pair.unit.source))
    return (
        f"Made by wattwitness {comparison.version}.",
        limit_words(comparison.settings.limit_pct),
        f"Settings: {settings_line(comparison.settings)}.",
        *(f"SHA-256, {role}: {source.sha256}" for role, source in sources if source.sha256),
        _left_of_comparison(comparison.settings, (pair,), where=" in the report"),
    )


def _left_of_comparison(settings: CompareSettings, pairs: Sequence[PairComparison], *, where: str) -> str:
    """Stretches left out, parts not assessed (``where`` says where they are named), and what of private data."""
    missing = len({item.what for pair in pairs for item in pair.not_assessed})
    assessed = f"Not assessed: {counted(missing, 'part')}, each named with the reason{where}. " if missing else ""
    return f"{_stretches_of_ride(settings.stretches_out)}{assessed}{PRIVATE}"


def _stretches_of_ride(stretches: Sequence[LeftOutStretch]) -> str:
    if not stretches:
        return "The tester left out no stretch of the ride. "
    named = ", ".join(stretch(one.from_s, one.to_s) for one in stretches[:MOST_STRETCHES])
    more = ", …" if len(stretches) > MOST_STRETCHES else ""
    return f"Left out by the tester: {counted(len(stretches), 'stretch', 'stretches')} of the ride ({named}{more}). "


def of_alone(report: AloneReport) -> tuple[str, ...]:
    """The same of one recording."""
    return (
        f"Made by wattwitness {report.version}.",
        "No claim is judged: one recording cannot show a constant error.",
        f"Settings: {settings_line(report.settings)}.",
        f"SHA-256, recording: {report.recording.source.sha256}",
        PRIVATE,
    )


def of_study(study: Study, unused: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The same of many rides."""
    settings = () if study.settings is None else (f"Settings: {settings_line(study.settings, many_rides=True)}.",)
    hashes = [
        f"SHA-256, {clean(ride.name)}, {role}: {sha256}"
        for ride in study.rides
        for role, sha256 in zip(("reference", "unit"), ride.source_sha256, strict=False)
    ]
    return (
        f"Made by wattwitness {study.version}.",
        claim_words(study.claim),
        *settings,
        *hashes,
        left_out_words(study, unused),
    )


def of_studies(studies: Sequence[Study]) -> tuple[str, ...]:
    """The same of several units, each named."""
    made, *_ = of_study(studies[0], ())
    return (made, *(f"{clean(study.unit)}: {line}" for study in studies for line in of_study(study, ())[1:]))


def left_out_words(study: Study, unused: Sequence[tuple[str, str]]) -> str:
    """Rides and files that are in no number, and what of private data."""
    parts = []
    rides = len(study.consistency.left_out)
    if rides:
        parts.append(counted(rides, "ride that does not count", "rides that do not count"))
    if unused:
        parts.append(counted(len(unused), "file that belongs to no ride", "files that belong to no ride"))
    stretches = _stretches_of_rides(study)
    if parts:
        lead = f"Left out: {' and '.join(parts)}, with the reasons. "
    else:
        lead = "No ride was left out. " if stretches else "No ride was left out, and no stretch of one. "
    return f"{lead}{stretches}{PRIVATE}"


def _stretches_of_rides(study: Study) -> str:
    """Stretches that are in no number of rides that are."""
    cut = [ride for ride in study.rides if ride.stretches_out_s]
    if not cut:
        return ""
    total = sum(len(ride.stretches_out_s) for ride in cut)
    each = [
        f"{clean(ride.name)}: {', '.join(stretch(from_s, to_s) for from_s, to_s in ride.stretches_out_s)}"
        for ride in cut
    ]
    named = f" ({'; '.join(each)})" if total <= MOST_STRETCHES else ""
    return (
        f"Left out by the tester: {counted(total, 'stretch', 'stretches')} of {counted(len(cut), 'ride')}{named}, "
        "with the reasons. "
    )


def limit_words(limit_pct: float | None) -> str:
    """What a comparison was held against."""
    if limit_pct is None:
        return "No limit was stated, so that nothing is judged against one."
    return f"Held against a limit of ±{quantity(limit_pct, '%', 2)} on the bias, as stated by the tester."


def claim_words(claim: Claim | None) -> str:
    """What was promised, by whom, and how that is known."""
    if claim is None:
        return "No claim was stated; where a verdict needs a limit, it names the default of this program."
    source = clean(claim.source, longest=LONGEST_SOURCE).rstrip(".")
    return f"The claim: {promise_words(claim)}. Its source: {source} ({KNOWN[claim.status]})."


def promise_words(claim: Claim) -> str:
    """What is promised, in what range of power: ``bias within ±2 %, from 50 W on``."""
    limits = []
    if claim.limit_pct is not None:
        limits.append(f"bias within ±{claim.limit_pct:g} %")
    if claim.limit_w is not None:
        limits.append(f"bias within ±{claim.limit_w:g} W")
    if claim.limit_pct is not None and claim.limit_w is not None:
        limits = [f"bias within ±{claim.limit_pct:g} % or ±{claim.limit_w:g} W, whichever is wider"]
    if claim.spread_pct is not None:
        limits.append(f"standard deviation between rides at most {claim.spread_pct:g} %")
    if claim.faults_per_h is not None:
        limits.append(f"at most {claim.faults_per_h:g} faults an hour")
    return ", ".join(limits) + _range(claim)


def _range(claim: Claim) -> str:
    if math.isfinite(claim.to_w):
        return f", from {claim.from_w:g} to {claim.to_w:g} W"
    return f", from {claim.from_w:g} W on" if claim.from_w > 0 else ""


def settings_table(settings: CompareSettings | AloneSettings, *, many_rides: bool = False) -> Table:
    """Every setting with its value and meaning; of ``many_rides`` some are stated ride by ride."""
    return Table(
        caption="The settings",
        columns=(
            Column(heading="setting", numeric=False),
            Column(heading="value", numeric=False),
            Column(heading="meaning", numeric=False),
        ),
        rows=tuple(
            (name, value, item.metadata["meaning"])
            for item, (name, value) in zip(fields(settings), _values(settings, many_rides), strict=True)
        ),
        folded=True,
    )


def settings_line(settings: CompareSettings | AloneSettings, *, many_rides: bool = False) -> str:
    """Every setting on one line."""
    return ", ".join(f"{name} {value}" for name, value in _values(settings, many_rides))


def _values(settings: CompareSettings | AloneSettings, many_rides: bool) -> list[tuple[str, str]]:
    """Name and value of every setting, as they are written."""
    return [
        (
            item.name,
            "as stated for each ride"
            if many_rides and item.name in OF_EACH_RIDE
            else _value(getattr(settings, item.name), item.metadata["unit"]),
        )
        for item in fields(settings)
    ]


def _value(value: Any, unit: str) -> str:
    if value is None or value == ():
        return "not set"
    if isinstance(value, tuple):
        return ", ".join(_one(part, unit) for part in value)
    return f"{value:g}" if unit == "1" else f"{value:g} {unit}"


def _one(part: float | LeftOutStretch | None, unit: str) -> str:
    if isinstance(part, LeftOutStretch):
        return f"{part.from_s:g} to {part.to_s:g} {unit} ({clean(part.reason)})"
    return "estimated" if part is None else f"{part:g} {unit}"


def data_mark(hashes: Sequence[str]) -> str:
    """A short mark of all data together, to tell one publication's figures from another's."""
    return hashlib.sha256("\n".join(hashes).encode("ascii", "replace")).hexdigest()[:SHORT_HASH]
