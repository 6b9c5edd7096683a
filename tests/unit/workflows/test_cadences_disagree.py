"""Two cadences that do not agree are told before a zero is believed."""

from types import SimpleNamespace

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Recording, Severity, Source
from wattwitness.workflows.measure import cadence_shared, cadences_disagree


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


def test_the_same_cadence_sample_by_sample_is_told() -> None:
    """As in two exports of one recording, of which one was averaged."""
    draws = np.random.default_rng(1)
    cadence = np.round(85 + np.cumsum(draws.normal(0, 1, 600)) / 5)
    first, second = (_recording(name, cadence) for name in ("pedals.csv", "bike.csv"))
    (notice,) = cadence_shared((first, second))
    assert notice.severity is Severity.WARNING
    other = _recording("other.csv", np.where(np.arange(600) == 300, cadence + 1, cadence))
    assert cadence_shared((first, other)) == ()
    steady = _recording("steady.csv", np.full(600, 85.0))
    assert cadence_shared((steady, steady)) == ()


def _recording(name: str, cadence_rpm: FloatArray) -> Recording:
    source = Source(file_name=name, sha256=name, size_bytes=1, format_name="csv")
    return Recording(source=source, time_s=np.arange(600.0), dated=False, channels={ChannelName.CADENCE: cadence_rpm})
