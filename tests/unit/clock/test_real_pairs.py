"""Real rides recorded by two recorders at once, made by other people (README beside them). Looked at by eye: power of
the indoor pair lies on itself at 4 s; the pauses of the other pair are its timer events, 68 and 47 s long, at 334 and
1605 s.
"""

from __future__ import annotations

from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from wattwitness.clock.fit import fit_clock
from wattwitness.model.clock import ClockStatus
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.readers.open import read_recordings

FOLDER = Path(__file__).parents[3].parent / "shared" / "recordings"

pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason=f"the folder of real recordings is not here: {FOLDER}")


def real(name: str) -> Recording:
    return read_recordings(FOLDER / name)[0]


@pytest.mark.parametrize("order", [1, -1])
def test_the_indoor_pair_is_found_by_cadence(order: int) -> None:
    """Not by heart rate, whose sensors are 8 s apart."""
    pair = [real("pair-indoor-pedals.fit"), real("pair-indoor-trainer.fit")][::order]
    clock = fit_clock(*pair)
    assert clock.status is ClockStatus.FOUND
    assert clock.channel is ChannelName.CADENCE
    assert clock.offset_s.value == pytest.approx(4.1 * order, abs=0.4)
    assert clock.jumps == ()


@pytest.mark.parametrize("order", [1, -1])
def test_both_pauses_of_the_other_pair_are_jumps(order: int) -> None:
    """Event-driven, without power; the app's clock leaves the pauses out. Seen from it they begin 68 s apart less."""
    pair = [real("pair-pauses-headunit.fit"), real("pair-pauses-app.fit")][::order]
    clock = fit_clock(*pair)
    assert clock.status.usable
    steps = [jump.step_s for jump in clock.jumps]
    assert [step.value for step in steps] == pytest.approx([68.0 * order, 47.0 * order], abs=3)
    for step, truth in zip(steps, (68.0 * order, 47.0 * order), strict=True):
        assert step.low is not None
        assert step.high is not None
        assert step.low <= truth <= step.high
    at_s = [jump.at_s.value for jump in clock.jumps]
    assert at_s == pytest.approx([334.0, 1605.0] if order == 1 else [339.0, 1542.0], abs=6)


@pytest.mark.parametrize("order", [1, -1])
def test_two_exports_of_one_console_are_one_source(order: int) -> None:
    """The one without power and with fractional seconds, the other without a date."""
    pair = [real("csv-console-a.csv"), real("tcx-console-a.tcx")][::order]
    assert fit_clock(*pair).status is ClockStatus.SAME_SOURCE


def test_different_real_rides_are_never_put_on_one_clock() -> None:
    """Every pair of these, which are rides of different people."""
    names = (
        "pair-indoor-pedals.fit",
        "pair-pauses-app.fit",
        "fit-indoor-left-right.fit",
        "csv-console-a.csv",
        "csv-console-b-nul.csv",
        "fit-missing-power.fit",
        "fit-duplicate-times.fit",
    )
    rides = {name: real(name) for name in names}
    statuses = {(a, b): fit_clock(rides[a], rides[b]).status for a, b in permutations(names, 2)}
    assert {pair: status for pair, status in statuses.items() if status.usable} == {}
    assert np.mean([status is ClockStatus.NO_COMMON_EFFORT for status in statuses.values()]) > 0.5
