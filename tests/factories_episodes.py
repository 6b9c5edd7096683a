"""Comparisons with made-up episodes of every finding. Nothing here is measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.factories import HOSTILE_NAME, around, comparison, pair
from tests.factories_evidence import drop, found, other, with_faults, witness
from wattwitness.model.comparison import Comparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName


def faulty(*episodes: Episode, channels: tuple[ChannelName, ...] | None = None) -> Comparison:
    """The ordinary comparison with these episodes."""
    return comparison(with_faults(found(*episodes) if channels is None else found(*episodes, channels=channels)))


def rider_eased(start_s: float = 2900.0) -> Episode:
    """Both meters fell alike."""
    return replace(
        other(Finding.RIDER, start_s=start_s),
        reason="The rider eased off: pedals changed by -22 % (-24 to -20) and the bike by -21 % (-24 to -18), alike.",
        energy_kj=Estimate.missing("not_of_the_unit", "kJ"),
        energy_share_pct=None,
    )


def reference_fell(start_s: float = 2300.0) -> Episode:
    """The reference's number fell away, so that the unit stands above its own relation to it."""
    return replace(
        other(Finding.REFERENCE, EpisodeKind.SURGE, start_s=start_s),
        depth_pct=around(41.0, 6.0, "%"),
        reason="Laboratory pedals is at fault rather than Studio bike B, 300 to 1.",
        energy_kj=Estimate.missing("not_of_the_unit", "kJ"),
        energy_share_pct=None,
        odds=1 / 300,
        witnesses=(
            witness(WitnessKind.CADENCE, Finding.REFERENCE, "Cadence changed by +0.2 rpm (-1.0 to +1.4).", -3.0),
        ),
    )


def of_kind(kind: EpisodeKind, start_s: float, length_s: float) -> Episode:
    """An episode of the unit without a depth of its own."""
    return replace(
        drop(start_s, start_s + length_s), kind=kind, depth_pct=Estimate.missing("not_of_this_kind", "%"), heart=None
    )


def no_episode() -> Comparison:
    """Looked for, and none found."""
    return faulty()


def one_drop() -> Comparison:
    """One drop of the unit."""
    return faulty(drop())


def every_finding() -> Comparison:
    """One episode of each finding and of several kinds."""
    return faulty(
        of_kind(EpisodeKind.MISSING, 300.0, 20.0),
        of_kind(EpisodeKind.SPIKE, 700.0, 1.0),
        drop(),
        other(Finding.UNDETERMINED, start_s=1900.0),
        reference_fell(),
        rider_eased(),
        replace(drop(3400.0, 3599.0, -18.0), lasts=True),
    )


def many_drops() -> Comparison:
    """Forty drops, more than fit beside the panels."""
    return faulty(*(drop(60.0 + 85 * k, 90.0 + 85 * k, -12.0 - k / 2) for k in range(40)))


def hostile_episodes() -> Comparison:
    """Sentences that carry a file's own words."""
    nasty = replace(
        drop(),
        reason=f"{HOSTILE_NAME} held.",
        witnesses=(witness(WitnessKind.OTHER_METER, Finding.UNIT, f"{HOSTILE_NAME} rode on"),),
    )
    made = with_faults(found(nasty, other(Finding.UNDETERMINED)))
    return comparison(replace(made, unit=pair(HOSTILE_NAME).unit))


def two_units_with_episodes() -> Comparison:
    """Two units, each with an episode of its own, and one in which none could be looked for."""
    first, second = with_faults(found(drop())), with_faults(found(other(Finding.UNDETERMINED)))
    return comparison(
        replace(first, unit=pair("Studio bike A").unit),
        replace(second, unit=pair("Studio bike B").unit),
        pair("Bike C"),
    )


def open_depth() -> Comparison:
    """A drop whose depth has no lower bound and whose energy is unknown."""
    made = replace(
        drop(),
        depth_pct=Estimate(value=-30.0, low=-np.inf, high=4.0, unit="%"),
        energy_kj=Estimate.missing("too_many_gaps", "kJ"),
        energy_share_pct=None,
        before_w=None,
        before_rpm=None,
        odds=None,
        witnesses=(),
        heart=None,
    )
    return faulty(made)


def nothing_recorded() -> Comparison:
    """Looked for over no time at all."""
    return comparison(
        with_faults(
            FaultsFound(
                episodes=(),
                bias_without_pct=Estimate.missing("no_common_power", "%"),
                lost_kj=0.0,
                hours=0.0,
                channels=(),
            )
        )
    )


WITH_EPISODES = {
    "no_episode": no_episode,
    "one_drop": one_drop,
    "every_finding": every_finding,
    "many_drops": many_drops,
    "hostile_episodes": hostile_episodes,
    "two_units_with_episodes": two_units_with_episodes,
    "open_depth": open_depth,
    "nothing_recorded": nothing_recorded,
}
