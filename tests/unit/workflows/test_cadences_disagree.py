"""Two cadences that do not agree are told before a zero is believed."""

from types import SimpleNamespace

import numpy as np
import pytest

from wattwitness.model.recording import ChannelName
from wattwitness.workflows.measure import cadences_disagree


@pytest.mark.parametrize(("times", "told"), [(2.0, True), (0.5, True), (1.07, True), (1.03, False), (1.0, False)])
def test_cadences_apart_by_more_than_5_percent_are_told(times: float, told: bool) -> None:
    unit = 85 + 5 * np.sin(np.arange(600.0) / 40)
    unit[100:120] = np.nan
    pair = SimpleNamespace(reference={ChannelName.CADENCE: times * unit}, unit={ChannelName.CADENCE: unit})
    notices = cadences_disagree(pair)  # type: ignore[arg-type]
    assert [notice.slug for notice in notices] == (["cadences_disagree"] if told else [])


def test_one_cadence_alone_cannot_disagree() -> None:
    pair = SimpleNamespace(reference={ChannelName.CADENCE: np.full(600, 85.0)}, unit={})
    assert cadences_disagree(pair) == ()  # type: ignore[arg-type]
