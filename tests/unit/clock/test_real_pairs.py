"""Real recordings by other people; see the README beside them. Skipped where the folder is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from wattwitness.clock.fit import fit_clock
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.recording import ChannelName
from wattwitness.readers.open import read_one

RECORDINGS = Path(__file__).parents[3].parent / "shared" / "recordings"
pytestmark = pytest.mark.skipif(
    not RECORDINGS.is_dir(), reason="the real recordings are not beside the project (../shared/recordings)"
)


def clock_of(first: str, second: str) -> ClockFit:
    return fit_clock(read_one(RECORDINGS / first), read_one(RECORDINGS / second))


def test_indoor_pair_is_found_by_cadence_and_not_by_heart_rate() -> None:
    clock = clock_of("pair-indoor-pedals.fit", "pair-indoor-trainer.fit")
    assert clock.status is ClockStatus.FOUND
    assert clock.channel is ChannelName.CADENCE
    # Seen by eye on the cadence of both: a pause in pedalling falls together at 4 to 4.5 s.
    assert clock.offset_s.value == pytest.approx(4.2, abs=0.4)


@pytest.mark.parametrize("turned", [False, True], ids=["head unit first", "app first"])
def test_both_pauses_are_jumps(turned: bool) -> None:
    """The head unit paused, its file says, 68 s at 334 s and 47 s at 1605 s; the app's file never shows a gap."""
    names = ("pair-pauses-headunit.fit", "pair-pauses-app.fit")
    clock = clock_of(*(reversed(names) if turned else names))
    assert clock.status.usable
    sign = -1 if turned else 1
    steps = [jump.step_s for jump in clock.jumps]
    assert [step.value for step in steps] == [pytest.approx(sign * 68, abs=3), pytest.approx(sign * 47, abs=3)]
    for step, truth in zip(steps, (68, 47), strict=True):
        assert step.low is not None
        assert step.high is not None
        assert step.low <= sign * truth <= step.high
        assert step.high - step.low < 20


def test_two_exports_of_one_console_are_one_source() -> None:
    assert clock_of("csv-console-a.csv", "tcx-console-a.tcx").status is ClockStatus.SAME_SOURCE
