"""Every truth topic's small sample: no claim may be broken."""

from __future__ import annotations

import pytest

from tests.truth.__main__ import load_topic, topic_names
from tests.truth.protocol import Claim, TruthTable, run_topic


@pytest.mark.parametrize("name", topic_names())
def test_no_claim_is_broken_on_the_small_sample(name: str) -> None:
    """The promises hold on the few rides that the tests can afford; ``make truth`` runs the many."""
    assert run_topic(load_topic(name), full=False).broken() == ()


def test_a_table_that_measured_nothing_is_refused() -> None:
    """Nothing measured is never a pass."""
    claim = Claim(text="It is right.", seen="nothing", held=True)
    with pytest.raises(ValueError, match="no rows or no claims"):
        TruthTable(title="empty", columns=("a",), rows=(), claims=(claim,))
    with pytest.raises(ValueError, match="no rows or no claims"):
        TruthTable(title="empty", columns=("a",), rows=(("1",),), claims=())


def test_a_broken_claim_is_named_with_what_was_seen() -> None:
    """A claim that does not hold comes out as a sentence."""
    table = TruthTable(
        title="t", columns=("a",), rows=(("1",),), claims=(Claim(text="It is 1.", seen="2", held=False),)
    )
    assert table.broken() == ("It is 1. Seen: 2.",)
