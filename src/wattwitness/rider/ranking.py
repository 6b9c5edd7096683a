"""What place a rider takes in a field when this unit, and not the truth, gives the number."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.model.rider import PlaceInField


def places(
    field: Sequence[tuple[str, float]], *, bias_pct: float, low_pct: float, high_pct: float
) -> tuple[PlaceInField, ...]:
    """For every rider of ``field`` (name, true mean power in W): the place if that rider alone rode this unit.

    ``low_pct`` to ``high_pct`` is the range of the unit's bias over rides. Riders of equal power share the better
    place.
    """
    return tuple(
        PlaceInField(
            rider=name,
            true_place=_place(field, place, 0.0),
            shown_place=_place(field, place, bias_pct),
            best=_place(field, place, high_pct),
            worst=_place(field, place, low_pct),
        )
        for place, (name, _) in enumerate(field)
    )


def _place(field: Sequence[tuple[str, float]], own: int, bias_pct: float) -> int:
    shown = field[own][1] * (1 + bias_pct / 100)
    return 1 + sum(power > shown for place, (_, power) in enumerate(field) if place != own)
