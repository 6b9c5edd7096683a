"""All episodes of one ride as a table, for spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.model.episodes import Episode
from wattwitness.model.estimate import Estimate
from wattwitness.writers.table_text import exact, harmless, table_text

HEADINGS = (
    "episode",
    "kind",
    "finding",
    "start_s",
    "end_s",
    "depth_pct",
    "depth_low_pct",
    "depth_high_pct",
    "energy_kj",
    "energy_low_kj",
    "energy_high_kj",
    "certainty",
    "odds_unit_over_reference",
    "power_before_w",
    "cadence_before_rpm",
    "lasts_to_the_end",
    "in_words",
)


def episodes_table(episodes: Sequence[Episode], sentences: Sequence[str]) -> bytes:
    """A row an episode, in their order, with its sentence; empty where something was not assessed."""
    rows = [
        _row(place, episode, said) for place, (episode, said) in enumerate(zip(episodes, sentences, strict=True), 1)
    ]
    return table_text([HEADINGS, *rows]).encode("utf-8")


def _row(place: int, episode: Episode, sentence: str) -> list[str]:
    return [
        str(place),
        episode.kind.value,
        episode.finding.value,
        exact(episode.start_s),
        exact(episode.end_s),
        *_estimate(episode.depth_pct),
        *_estimate(episode.energy_kj),
        exact(float(episode.certainty)),
        _number(episode.odds),
        _number(episode.before_w),
        _number(episode.before_rpm),
        "1" if episode.lasts else "0",
        harmless(sentence),
    ]


def _estimate(estimate: Estimate) -> list[str]:
    return [_number(value) for value in (estimate.value, estimate.low, estimate.high)]


def _number(value: float | None) -> str:
    return "" if value is None else exact(float(value))
