"""Words beside many cases: none over another, the important ones always, nothing moved that need not be."""

from __future__ import annotations

import itertools

import pytest

from wattwitness.render.case_labels import ONE_LINE, placed

CASES = [f"ride {k}: −4.{k % 10} (−5.0 to −3.0) %" for k in range(200)]


@pytest.mark.parametrize("count", [1, 2, 9, 14, 19, 25, 60, 200])
@pytest.mark.parametrize("lines", [12.0, 27.0, 70.0])
def test_no_label_stands_over_another(count: int, lines: float) -> None:
    cases = [*CASES[: count - 1], "mean over rides: −4.2 (−4.5 to −4.0) %"]
    found = placed(cases, lines=lines, letters=60, always={count - 1})
    assert len(found.at) == len(found.labels) == count
    assert list(found.at) == sorted(found.at)
    assert 0 < found.at[0] <= found.at[-1] < found.rows
    assert found.labels[-1], "what sums up the others keeps its name"
    line = found.rows / lines  # the height of a line, in rows
    shown = [(at, label.count("\n") + 1) for at, label in zip(found.at, found.labels, strict=True) if label]
    for (first, high), (second, low) in itertools.pairwise(shown):
        assert second - first >= line * ONE_LINE * (high + low) / 2 * 0.83


def test_labels_are_cut_to_the_room_across() -> None:
    long = ["x" * 80 + ": −4.3 (−5.0 to −3.0) %", "short: 1 %"]
    for lines in (40.0, 3.0):
        for label in placed(long, lines=lines, letters=20).labels:
            assert max(map(len, label.split("\n"))) <= 22
    assert placed(long, lines=3.0, letters=20).labels[1] == "short: 1 %"


def test_with_room_each_case_has_two_lines() -> None:
    found = placed(CASES[:3], lines=30, letters=40)
    assert found.labels[0] == "ride 0:\n−4.0 (−5.0 to −3.0) %"
    assert found.crowded == 1.0
