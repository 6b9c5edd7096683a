"""One recording named twice among the units is said to be one."""

from __future__ import annotations

from dataclasses import replace

from tests import factories
from wattwitness.workflows.copies import warned_of_copies


def test_the_later_of_two_copies_is_named() -> None:
    pairs = (factories.pair("Bike A"), factories.pair("Bike B"), factories.pair("Bike C"))
    copies = factories.same_source().pairs[0]
    between = (factories.pair(), copies, factories.pair())  # A-B, A-C, B-C
    warned = warned_of_copies(pairs, between)
    assert [any(n.slug == "unit_is_a_copy" for n in pair.notices) for pair in warned] == [False, False, True]
    assert "same recording as unit 1" in warned[2].notices[-1].message


def test_without_copies_nothing_is_said() -> None:
    pairs = (factories.pair("Bike A"), replace(factories.pair("Bike B"), notices=()))
    assert warned_of_copies(pairs, (factories.pair(),)) == pairs
