"""What a meter's description, where there is one, tells the stories."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import MeterFacts
from wattwitness.model.setup import MeterFile


def facts_of(meter: MeterFile | None) -> MeterFacts:
    """The facts on record in ``meter``; nothing on record without it.

    A power that is put right for its crank length on record is that of a meter whose set length is the true one.
    """
    if meter is None:
        return MeterFacts()
    setup = meter.setup
    return MeterFacts(
        place=meter.place,
        sides=meter.sides,
        crank_set_mm=setup.crank_true_mm if meter.put_right_crank else setup.crank_set_mm,
        crank_true_mm=setup.crank_true_mm,
        zero_taken=setup.zero_taken,
    )
