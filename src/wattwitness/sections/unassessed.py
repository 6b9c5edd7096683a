"""What was not assessed, and why: nothing measured is never a pass."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Paragraph, Section
from wattwitness.sections.building import Block, Named, for_each_unit
from wattwitness.words.estimates import because, listed
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import typeset
from wattwitness.words.parts import part_words

NAME = "unassessed"
TITLE = "Not assessed"


def build(comparison: Comparison) -> Section | None:
    """Parts that are missing, grouped by reason; no section where nothing is missing."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    reasons: dict[str, list[str]] = {}
    for item in named.pair.not_assessed:
        reasons.setdefault(typeset(item.why.strip()) or f"{because(item.slug)}.", []).append(part_words(item.what))
    for why, parts in reasons.items():
        yield Paragraph(
            text=f"{sentence_start(named.unit)}: {sentence_start(why)} Not assessed for that reason: {listed(parts)}."
        )
