"""Episodes with made-up values on the made-up ride of ``tests/factories.py``. Nothing here is measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.factories import around, pair, percent
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import (
    Episode,
    EpisodeKind,
    FaultsFound,
    Finding,
    HeartAccounts,
    Pattern,
    Witness,
    WitnessKind,
)
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

UNKNOWN = Estimate.missing("not_assessed", "%")
ALL_CHANNELS = (ChannelName.POWER, ChannelName.CADENCE, ChannelName.RESISTANCE, ChannelName.HEART_RATE)


def witness(kind: WitnessKind, supports: Finding, says: str, log_odds: float = 3.0) -> Witness:
    """One channel's account."""
    return Witness(
        kind=kind,
        recorded_by="Laboratory pedals",
        change=percent(0.4, 1.5),
        expected_if_unit_right=percent(-30, 4),
        expected_if_reference_right=percent(0, 2),
        log_odds=log_odds,
        supports=supports,
        says=says,
    )


def heart(start_s: float, end_s: float) -> HeartAccounts:
    """Heart rate that stays up while the unit says that the effort fell."""
    time_s = np.arange(start_s - 120, end_s + 240)
    inside = np.clip((time_s - start_s) / 60, 0, 1) - np.clip((time_s - end_s) / 60, 0, 1)
    steady = 152 + 1.5 * np.sin(time_s / 40)
    return HeartAccounts(
        time_s=time_s,
        measured_bpm=np.round(steady + np.sin(time_s / 9)),
        if_unit_right_bpm=steady - 21 * inside,
        if_reference_right_bpm=steady,
    )


def drop(start_s: float = 1500.0, end_s: float = 1625.0, depth_pct: float = -31.0) -> Episode:
    """A drop of the unit that every witness speaks against."""
    return Episode(
        kind=EpisodeKind.DROP,
        start_s=start_s,
        end_s=end_s,
        depth_pct=percent(depth_pct, 3.2),
        energy_kj=around(8.4, 1.1, "kJ"),
        energy_share_pct=1.1,
        certainty=0.9998,
        finding=Finding.UNIT,
        reason="Laboratory pedals held their power, cadence held, and heart rate stayed where that power puts it.",
        witnesses=(
            witness(
                WitnessKind.REFERENCE,
                Finding.UNIT,
                "Laboratory pedals changed by +0.4 % (-1.1 to +1.9) while the unit fell by 31 %.",
            ),
            witness(WitnessKind.CADENCE, Finding.UNIT, "Cadence held at 86 rpm (change -0.3 rpm)."),
            witness(
                WitnessKind.HEART_RATE,
                Finding.UNIT,
                "Heart rate stayed at 152 bpm; it would have fallen by 17 bpm had the unit been right: 400 to 1.",
                log_odds=6.0,
            ),
        ),
        odds=5400.0,
        before_w=232.0,
        before_rpm=86.0,
        heart=heart(start_s, end_s),
    )


def other(finding: Finding, kind: EpisodeKind = EpisodeKind.DROP, start_s: float = 2500.0) -> Episode:
    """An episode that is not put down to the unit."""
    return Episode(
        kind=kind,
        start_s=start_s,
        end_s=start_s + 45,
        depth_pct=percent(-22.0, 5.0),
        energy_kj=around(1.9, 0.6, "kJ"),
        energy_share_pct=0.2,
        certainty=0.98,
        finding=finding,
        reason="Only power was recorded, and nothing else can be asked.",
    )


def found(*episodes: Episode, channels: tuple[ChannelName, ...] = ALL_CHANNELS) -> FaultsFound:
    """What was found in one hour."""
    return FaultsFound(
        episodes=episodes,
        bias_without_pct=percent(-3.1),
        lost_kj=sum(episode.energy_kj.value or 0.0 for episode in episodes if episode.finding is Finding.UNIT),
        hours=0.98,
        channels=channels,
        patterns=(Pattern(name="too_few", says="Two episodes are too few to say when they come.", chance=None),)
        if len(episodes) > 1
        else (),
    )


def with_faults(faults: FaultsFound | None) -> PairComparison:
    """The ordinary pair with these episodes; the unit's power falls where it is at fault, and resistance is logged."""
    plain = pair()
    series = plain.series
    unit_w = np.array(series.unit_w)
    for episode in faults.episodes if faults else ():
        inside = (series.time_s >= episode.start_s) & (series.time_s <= episode.end_s)
        if episode.finding is Finding.UNIT:
            unit_w[inside] *= 1 + (episode.depth_pct.value or 0.0) / 100
    resistance = np.where(np.isfinite(series.unit_w), 42.0 + (series.time_s > 2000), np.nan)
    return replace(plain, faults=faults, series=replace(series, unit_w=unit_w, unit_resistance=resistance))
