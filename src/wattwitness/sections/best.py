"""Best mean powers and total work."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import best_means
from wattwitness.model.agreement import BestMean
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, not_assessed_paragraph
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import clock_time, number, quantity, short_duration

NAME = "best"
TITLE = "Best mean powers and work"


def build(comparison: Comparison) -> Section | None:
    """Best means and work for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    pair = named.pair
    work = pair.work
    if work is not None:
        text = (
            f"Over the seconds both showed power, {named.reference} counted {quantity(work.reference_kj, 'kJ')} of "
            f"work and {named.unit} {quantity(work.unit_kj, 'kJ')}."
        )
        yield Paragraph(text=text)
    if not pair.best_means:
        yield not_assessed_paragraph(named, "best_means", "The best mean power", pair.overall.bias_pct)
        return
    sentence = _sentence(named)
    if sentence:
        yield Paragraph(text=sentence)
    yield best_means.build(pair)
    yield _table(pair.best_means)


def _sentence(named: Named) -> str:
    """The best minutes that riders know: 1, 5 and 20 min, of those that the ride has."""
    known = {best.duration_s: best for best in named.pair.best_means}
    parts = [
        f"{quantity(known[duration].unit_w, 'W', 0)} over {short_duration(duration)} "
        f"({named.reference}: {quantity(known[duration].reference_w, 'W', 0)})"
        for duration in (60, 300, 1200)
        if duration in known and known[duration].unit_w is not None and known[duration].reference_w is not None
    ]
    return f"{sentence_start(named.unit)}’s own bests: {'; '.join(parts)}." if parts else ""


def _table(bests: tuple[BestMean, ...]) -> Table:
    return Table(
        caption="Best mean powers; a dash where a gap hides them",
        columns=(
            Column(heading="duration", numeric=False),
            Column(heading="reference, own best", unit="W"),
            Column(heading="unit, own best", unit="W"),
            Column(heading="unit, reference’s window", unit="W"),
            Column(heading="reference as the unit would show it", unit="W"),
            Column(heading="reference’s window from", unit="h:mm:ss"),
        ),
        rows=tuple(
            (
                short_duration(best.duration_s),
                number(best.reference_w, 1),
                number(best.unit_w, 1),
                number(best.same_window_unit_w, 1),
                number(best.reference_through_response_w, 1),
                clock_time(best.reference_start_s),
            )
            for best in bests
        ),
        places=tuple(
            None
            if best.reference_start_s is None
            else (best.reference_start_s, best.reference_start_s + best.duration_s)
            for best in bests
        ),
    )
