"""Traces of an effort between samples: how large they are, against ones that are made."""

from __future__ import annotations

import numpy as np
import pytest

from tests.truth.truth_meters_between import effort, written
from wattwitness.reference.between_samples import one_moment, traces_of_effort
from wattwitness.reference.three_meters import SeenMeter, own_errors, seen_together


def meters(late_s: tuple[float, float, float], own_pct: tuple[float, float, float], kind: str) -> list[SeenMeter]:
    generator = np.random.default_rng([4, 5])
    sums = np.append(0.0, np.cumsum(effort(generator, kind)))
    return [
        SeenMeter(
            name=f"meter {place}",
            recording=place,
            power_w=written(sums, late, own / 100 * generator.standard_normal(80 * 60)),
            kernel=np.ones(1),
            since_s=1 - late if late else 0.0,
        )
        for place, (late, own) in enumerate(zip(late_s, own_pct, strict=True))
    ]


@pytest.mark.parametrize(
    ("late_s", "same"), [((0.0, 3.0, 0.01), True), ((0.99, 0.0), True), ((0.0, 0.0, 0.3), False), ((0.5, 0.0), False)]
)
def test_whole_seconds_apart_is_one_moment(late_s: tuple[float, ...], same: bool) -> None:
    assert one_moment(late_s) is same


@pytest.mark.parametrize("kind", ["steady", "intervals", "group"])
def test_expected_traces_are_about_those_made(kind: str) -> None:
    """Meters without any error differ by the traces alone; they come out within a factor of two."""
    together = seen_together(meters((0.3, 0.0, 0.0), (0.0, 0.0, 0.0), kind))
    assert together.traces is not None
    made = float(np.mean((together.relative[0] - together.relative[1:].mean(axis=0)) ** 2))
    assert float(together.traces[0].mean()) == pytest.approx(made, rel=1.0)
    assert float(together.traces[0].mean()) > made / 2


def test_nothing_in_common_leaves_no_traces() -> None:
    noise = 200 + np.random.default_rng(2).standard_normal((3, 600)) * np.array([[1.0], [1.0], [1.0]])
    assert np.max(np.abs(traces_of_effort(noise, np.ones(600), (0.0, 0.3, 0.0)))) < 1e-4


def test_what_lies_between_samples_is_no_meters_error() -> None:
    found, _ = own_errors(meters((0.3, 0.0, 0.0), (1.0, 2.0, 4.0), "group"), averaging_s=(1,))
    for meter, own in zip(found, (1.0, 2.0, 4.0), strict=True):
        spread = meter.spreads[0].own_sd_pct
        assert spread.low is not None
        assert spread.high is not None
        assert spread.low <= own <= spread.high
    assert found[0].spreads[0].resolved < 1
