"""Before and after: groups that the tester names, or else the firmware that the recordings name."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.study.figures import figures
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures
from wattwitness.workflows.study import in_groups, judge_rides


def rides(key: str) -> list[RideFigures]:
    biases = [-6.0 + 0.1 * k for k in range(4)] + [0.1 * k for k in range(4)]
    versions = ["1.04"] * 4 + ["1.05"] * 4
    plain = [figures(number, bias) for number, bias in enumerate(biases)]
    if key == "group":
        return [replace(ride, group=version) for ride, version in zip(plain, versions, strict=True)]
    return [replace(ride, firmware=version) for ride, version in zip(plain, versions, strict=True)]


@pytest.mark.parametrize("key", ["group", "firmware"])
def test_groups_and_firmware_alike_are_held_against_each_other(key: str) -> None:
    found = judge_rides(rides(key), ListedStudy(rides=(), before="1.04", after="1.05"), CompareSettings())
    assert found.before_after is not None
    assert (found.before_after.before, found.before_after.after) == ("1.04", "1.05")
    change = found.before_after.bias_change_pct
    assert change.low is not None
    assert change.high is not None
    assert change.low < 6.0 < change.high
    assert found.judged_on == "1.05"


def test_a_group_wins_over_firmware_of_the_same_name() -> None:
    both = [replace(ride, group="1.05") for ride in rides("firmware")[:4]] + rides("group")[:4]
    assert [ride.group for ride in in_groups(both, ListedStudy(rides=(), before="1.04", after="1.05"))] == [
        *["1.05"] * 4,
        *["1.04"] * 4,
    ]


@pytest.mark.parametrize(("before", "after", "named"), [("1.04", "2.0", "“2.0”"), ("monday", "1.05", "“monday”")])
def test_a_name_that_is_neither_is_told_with_those_there_are(before: str, after: str, named: str) -> None:
    with pytest.raises(UnknownName) as told:
        in_groups(rides("firmware"), ListedStudy(rides=(), before=before, after=after))
    assert named in told.value.what
    assert "“1.04”, “1.05”" in told.value.hint


def test_one_name_alone_asks_for_the_other() -> None:
    with pytest.raises(SettingInvalid, match="both need"):
        in_groups(rides("firmware"), ListedStudy(rides=(), before="1.04"))


def test_the_same_recordings_count_once() -> None:
    """One pair listed five times is one ride, and no narrower an answer."""
    one = replace(rides("group")[0], source_sha256=("a" * 64, "b" * 64))
    again = [replace(one, name=f"again {number}") for number in range(4)]
    listed = ListedStudy(
        rides=tuple(ListedRide(name=ride.name, reference="p.fit", unit="b.fit") for ride in (one, *again))
    )
    found = judge_rides([one, *again], listed, CompareSettings())
    assert [ride.left_out for ride in found.rides] == ["", *["same_recordings"] * 4]
    assert found.consistency.standardised.rides == 1
    parts = ListedStudy(
        rides=tuple(
            ListedRide(name=ride.name, reference=f"p.fit#{number}", unit="b.fit")
            for number, ride in enumerate((one, *again), start=1)
        )
    )
    assert all(ride.counts for ride in judge_rides([one, *again], parts, CompareSettings()).rides)
