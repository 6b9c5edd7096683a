"""How sure the bias is: its intervals side by side, the naive one among them to show that it is too narrow."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wattwitness.charts import bias_intervals
from wattwitness.model.agreement import OverallBias
from wattwitness.model.comparison import Comparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import interval_cell, reads, value_cell
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import long_duration, quantity

NAME = "bias"
TITLE = "How far off, and how sure"
LONGEST_ORIGIN = 200


def build(comparison: Comparison) -> Section | None:
    """Bias with all its intervals for each unit."""
    limit_pct = comparison.settings.limit_pct
    return for_each_unit(comparison, NAME, TITLE, lambda named: _blocks(named, limit_pct))


def _blocks(named: Named, limit_pct: float | None) -> Iterator[Block]:
    overall = named.pair.overall
    if not overall.bias_pct.assessed:
        yield not_assessed_paragraph(named, "bias_pct", "The bias", overall.bias_pct)
        return
    yield Paragraph(text=f"{sentence_start(named.unit)} {reads(overall.bias_pct)}. {_wander(overall)}".strip())
    yield bias_intervals.build(named.pair, limit_pct=limit_pct)
    yield _table(overall)


def _wander(overall: OverallBias) -> str:
    """Why seconds do not count as independent here."""
    if not (math.isfinite(overall.wander_time_s) and math.isfinite(overall.wander_pct)):
        return ""
    return (
        f"The error wanders by {quantity(overall.wander_pct, '%')} (standard deviation of 30 s means) and takes "
        f"about {long_duration(overall.wander_time_s)} to forget itself, so neighbouring seconds say the same thing "
        "twice: an interval that counts each as new is too narrow."
    )


def _table(overall: OverallBias) -> Table:
    uncertainty = f"the reference’s standard uncertainty, {quantity(overall.reference_uncertainty_pct, '%')}"
    origin = clean(overall.reference_uncertainty_origin, longest=LONGEST_ORIGIN)
    rows: list[tuple[str, Estimate, str]] = [
        ("this ride", overall.bias_pct, "allows for slow wander; the interval meant wherever none is named"),
        (
            "with the reference’s uncertainty",
            overall.bias_with_reference_pct,
            f"adds {uncertainty}, common to the whole ride" + (f"; origin: {origin}" if origin else ""),
        ),
        ("bootstrap", overall.bootstrap_pct, "resamples stretches of the ride; for comparison"),
        ("seconds as independent", overall.naive_pct, "too narrow; shown to warn of it"),
    ]
    return Table(
        caption="The bias by four intervals",
        columns=(
            Column(heading="interval", numeric=False),
            Column(heading="bias", unit="%"),
            Column(heading=interval_heading(overall.bias_pct), unit="%"),
            Column(heading="what it is", numeric=False),
        ),
        rows=tuple((name, value_cell(estimate), interval_cell(estimate), what) for name, estimate, what in rows),
    )
