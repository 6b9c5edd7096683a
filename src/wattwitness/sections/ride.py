"""The ride along its time, with everything on one axis."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import panels
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Section
from wattwitness.sections.building import Block, Named, for_each_unit

NAME = "ride"
TITLE = "The ride"


def build(comparison: Comparison) -> Section | None:
    """The time panels of each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    yield panels.build(named.pair)
