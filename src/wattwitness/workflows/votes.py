"""Three meters or more on one ride: each episode of a unit is put to the other units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wattwitness.faults.vote import with_votes
from wattwitness.model.arrays import FloatArray
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding
from wattwitness.model.estimate import Estimate

NOT_PUT = (EpisodeKind.CLOCK_JUMP, EpisodeKind.MISSING)
"""A recorder that lost time or its link shows that by itself; others have nothing to say of it."""

Other = tuple[str, FloatArray, FloatArray]


def with_other_meters(pairs: Sequence[PairComparison]) -> tuple[PairComparison, ...]:
    """The pairs with every episode put to the other units of the ride, all on the reference's clock and grid."""
    voters = [_voter(pair) for pair in pairs]
    voted = []
    for place, pair in enumerate(pairs):
        others = [voter for at, voter in enumerate(voters) if at != place and voter is not None]
        voted.append(pair if pair.faults is None else replace(pair, faults=_put(pair.faults, others)))
    return tuple(voted)


def _voter(pair: PairComparison) -> Other | None:
    """A unit's name, what its relation to the reference foretells, and what it showed; ``None`` where it has no power,
    or shows one number throughout: that keeps to nothing.
    """
    bias_pct = pair.overall.bias_pct.value
    if bias_pct is None or pair.unit.one_power_w is not None:
        return None
    return pair.unit.label, pair.series.expected_w * (1 + bias_pct / 100), pair.series.unit_w


def _put(faults: FaultsFound, others: Sequence[Other]) -> FaultsFound:
    episodes = tuple(one if one.kind in NOT_PUT else _settled(with_votes(one, others)) for one in faults.episodes)
    lost = [one.energy_kj.value for one in episodes if one.finding in (Finding.UNIT, Finding.UNDETERMINED)]
    return replace(faults, episodes=episodes, lost_kj=float(sum(value for value in lost if value is not None)))


def _settled(episode: Episode) -> Episode:
    """Where the votes put it down to the reference, the unit's record lost nothing."""
    if episode.finding is not Finding.REFERENCE or not episode.energy_kj.assessed:
        return episode
    missing = Estimate.missing("not_of_the_unit", episode.energy_kj.unit, episode.energy_kj.level)
    return replace(episode, energy_kj=missing, energy_share_pct=None)
