"""What the sections share: one set of blocks for each unit, and charts told apart by unit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from wattwitness.model.chart import Chart
from wattwitness.model.comparison import Comparison, PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Paragraph, Section, Table
from wattwitness.words.estimates import because
from wattwitness.words.names import pair_names, unit_names
from wattwitness.words.numbers import percent_level, typeset

Block = Paragraph | Table | Chart


class AlsoUnassessed(Paragraph):
    """A sentence on a missing part that stands under what was not assessed as well."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A pair with what its meters are called in this comparison."""

    pair: PairComparison
    reference: str
    unit: str


def named_pairs(comparison: Comparison) -> tuple[Named, ...]:
    """Every unit against the reference, told apart by name."""
    units = unit_names(comparison.pairs)
    if len(units) == 1:
        reference, unit = pair_names(comparison.pairs[0])
        return (Named(pair=comparison.pairs[0], reference=reference, unit=unit),)
    return tuple(
        Named(pair=pair, reference=pair_names(pair)[0], unit=unit)
        for pair, unit in zip(comparison.pairs, units, strict=True)
    )


def for_each_unit(
    comparison: Comparison, name: str, title: str, blocks_of: Callable[[Named], Iterable[Block]]
) -> Section | None:
    """A section that says the same of every unit, in their order; none where there is nothing to say of any.

    A part that no unit has, and that each names under what was not assessed, is left to that section.
    """
    pairs = named_pairs(comparison)
    of_each = [tuple(blocks_of(named)) for named in pairs]
    if all(_left_out(blocks) for blocks in of_each):
        return None
    blocks: list[Block] = []
    for number, (named, said) in enumerate(zip(pairs, of_each, strict=True), start=1):
        blocks += [_of_unit(block, named.unit, number) if len(pairs) > 1 else block for block in said]
    return Section(name=name, title=title, blocks=tuple(blocks)) if blocks else None


def _left_out(blocks: tuple[Block, ...]) -> bool:
    """Whether a unit's only word is one that the section on what was not assessed also says."""
    return len(blocks) == 1 and isinstance(blocks[0], AlsoUnassessed)


def _of_unit(block: Block, unit: str, number: int) -> Block:
    """A chart or table that says whose it is; its name stays unique on the page."""
    if isinstance(block, Chart):
        return replace(block, name=f"{block.name}_{number}", title=f"{block.title}: {unit}")
    if isinstance(block, Table):
        leads_to = f"{block.leads_to}_{number}" if block.leads_to else ""
        return replace(block, caption=f"{block.caption}: {unit}", leads_to=leads_to)
    return block


def not_assessed_paragraph(named: Named, what: str, subject: str, estimate: Estimate | None = None) -> Paragraph:
    """One sentence on why a part is missing: the pair's own words where it has them."""
    for item in named.pair.not_assessed:
        if item.what == what:
            return AlsoUnassessed(text=f"{subject} of {named.unit} was not assessed: {_clause(item.why, item.slug)}")
    slug = estimate.not_assessed if estimate is not None else None
    reason = because(slug) if slug else "the ride holds too little of it"
    return Paragraph(text=f"{subject} of {named.unit} was not assessed: {reason}.")


def _clause(why: str, slug: str) -> str:
    text = typeset(why.strip()) or because(slug)
    return text if text.endswith((".", "!", "?")) else f"{text}."


def interval_heading(estimate: Estimate) -> str:
    """Heading of a column of intervals: ``95 % interval``."""
    return f"{percent_level(estimate.level)} interval"
