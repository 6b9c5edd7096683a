"""Rides of an invented bike as figures, for the tests of the study room."""

from __future__ import annotations

import math

from wattwitness.model.episodes import Episode, EpisodeKind, Finding
from wattwitness.model.estimate import Estimate
from wattwitness.model.study import RideFigures


def about(value: float, error: float) -> Estimate:
    return Estimate(value=value, low=value - 2.3 * error, high=value + 2.3 * error, unit="%")


def drop(start_s: float = 1200.0) -> Episode:
    return Episode(
        kind=EpisodeKind.DROP,
        start_s=start_s,
        end_s=start_s + 90,
        depth_pct=about(-30.0, 1.0),
        energy_kj=Estimate(value=5.0, low=4.5, high=5.5, unit="kJ"),
        energy_share_pct=1.0,
        certainty=1.0,
        finding=Finding.UNIT,
        reason="The effort went on.",
    )


def figures(
    number: int,
    bias: float,
    *,
    error: float = 0.3,
    gain: float | None = None,
    zero: float = 0.0,
    mean_w: float = 200.0,
    mean_rpm: float = 85.0,
    hours: float = 1.0,
    faults: int = 0,
    left_out: str = "",
    course: tuple[float, float, float] = (math.nan, math.nan, math.nan),
) -> RideFigures:
    return RideFigures(
        name=f"ride {number}",
        unit="bike A",
        day=f"2026-01-{number + 1:02d}",
        hours=hours,
        bias_pct=about(bias, error),
        bias_se_pct=error,
        bias_degrees=8.0,
        standardised_pct=about(bias, error),
        standardised_se_pct=error,
        standardised_degrees=8.0,
        gain_pct=bias if gain is None else gain,
        zero_nm=zero,
        relation_covariance=(0.5**2, -0.5 * 0.1 * 0.8, 0.1**2),
        mean_w=mean_w,
        mean_rpm=mean_rpm,
        left_out=left_out,
        episodes=tuple(drop(1200.0 + 300 * k) for k in range(faults)),
        start_bias_pct=course[0],
        settled_bias_pct=course[1],
        tau_min=course[2],
    )
