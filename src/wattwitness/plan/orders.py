"""The steps of a planned ride and their order: every power at every cadence, up and down, in time as in power balanced.

The order is drawn by chance and the best of many draws is kept: the one that leaves gain, zero, cadence and settling
least alike. The second order is the first one's steps backwards, so that over two rides every step stands as early as
late, and every way up is also a way down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.plan import PlanStep, RidePlan, StepKind
from wattwitness.plan.separation import weakness

DRAWN = 40
"""Orders drawn for one plan; more change the predicted errors by less than one part in twenty."""

SHARES = (0.45, 0.60, 0.75, 0.90)
WARM_UP_SHARE, COOL_DOWN_SHARE = 0.45, 0.40
CADENCES_RPM = (65.0, 85.0, 100.0)
WARM_UP_S, STEP_S, COOL_DOWN_S = 600.0, 120.0, 300.0
REPEATS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class StepGrid:
    """What the steps of one ride are made of. ``highest_share`` is the hardest step's part of the threshold power.

    ``from_w`` and ``to_w`` are the range of power the claim holds for; steps outside are moved to its ends.
    """

    threshold_w: float
    highest_share: float = SHARES[-1]
    cadences_rpm: tuple[float, ...] = CADENCES_RPM
    step_s: float = STEP_S
    warm_up_s: float = WARM_UP_S
    repeats: int = REPEATS
    from_w: float = 0.0
    to_w: float = float("inf")

    @property
    def powers_w(self) -> tuple[float, ...]:
        """Four powers evenly apart, in whole 5 W, none above ``highest_share`` of the threshold."""
        low, high = SHARES[0] * self.threshold_w, self.highest_share * self.threshold_w
        low, high = max(low, min(self.from_w, high)), min(high, self.to_w)
        low = min(low, high)
        found = (np.floor(np.linspace(low, high, len(SHARES)) / 5 + 1e-9) * 5).tolist()
        return tuple(dict.fromkeys(max(power, 5.0) for power in found))


def planned_orders(grid: StepGrid, *, seed: int) -> tuple[RidePlan, RidePlan]:
    """Two orders of one ride, to be ridden in turn: the best of those drawn, and its steps backwards."""
    rng = np.random.default_rng(seed)
    steps = [
        PlanStep(kind=StepKind.MEASURE, seconds=grid.step_s, power_w=power, cadence_rpm=cadence)
        for power in grid.powers_w
        for cadence in grid.cadences_rpm
    ]
    drawn = [_whole(grid, _drawn(steps, grid.repeats, rng), "order A") for _ in range(DRAWN)]
    best = min(drawn, key=_weakness)
    middle = best.steps[1:-1]
    return best, _whole(grid, middle[::-1], "order B")


def _drawn(steps: Sequence[PlanStep], repeats: int, rng: np.random.Generator) -> list[PlanStep]:
    """Every step once in each repeat, in an order of its own, none twice in a row."""
    order: list[PlanStep] = []
    for _ in range(repeats):
        turn = [steps[place] for place in rng.permutation(len(steps))]
        if order and len(turn) > 1 and turn[0] == order[-1]:
            turn = [*turn[1:], turn[0]]
        order += turn
    return order


def _whole(grid: StepGrid, middle: Sequence[PlanStep], name: str) -> RidePlan:
    cadence = float(np.median(grid.cadences_rpm))
    easy = min(grid.powers_w)
    warm_up = PlanStep(kind=StepKind.WARM_UP, seconds=grid.warm_up_s, power_w=easy, cadence_rpm=cadence)
    last_w = 5.0 * round(min(COOL_DOWN_SHARE * grid.threshold_w, easy) / 5)
    cool_down = PlanStep(kind=StepKind.COOL_DOWN, seconds=COOL_DOWN_S, power_w=max(last_w, 5.0), cadence_rpm=cadence)
    return RidePlan(name=name, steps=(warm_up, *middle, cool_down))


def _weakness(ride: RidePlan) -> float:
    """What the order makes of the predicted errors, and of steps up against steps down; smaller is better."""
    powers = np.array([step.power_w for step in ride.steps[1:-1]])
    ups, downs = int((np.diff(powers) > 0).sum()), int((np.diff(powers) < 0).sum())
    return weakness(ride) + abs(ups - downs) / powers.size
