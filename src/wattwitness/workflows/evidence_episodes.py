"""The part of an evidence bundle that is about one unit: its statement, and a folder for each episode."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.clock.mapping import to_reference_s, to_unit_s
from wattwitness.model.comparison import Comparison, PairComparison
from wattwitness.model.episodes import Episode, Finding
from wattwitness.model.evidence import REFERENCE, BundledUnit, unit_role
from wattwitness.model.recording import Recording
from wattwitness.sections.building import Named, named_pairs
from wattwitness.words.episodes import episode_sentence
from wattwitness.words.names import sentence_start, sentence_starts
from wattwitness.words.numbers import NBSP, percent_level
from wattwitness.workflows.compare import Progress

AROUND_S = 180.0
"""Seconds before and after an episode that its samples and its figure show."""

MOST_DRAWN = 40
"""More episodes than this get no folder each: the largest do, and the table holds them all."""


def unit_files(
    comparison: Comparison, recordings: Sequence[Recording], members: dict[str, bytes], progress: Progress
) -> tuple[BundledUnit, ...]:
    """Add each unit's statement and episodes to ``members``, and return what is said of them."""
    found = []
    for place, named in enumerate(named_pairs(comparison), start=1):
        progress(f"drawing the episodes of {named.unit}")
        pair = named.pair
        role = unit_role(place)
        episodes = () if pair.faults is None else pair.faults.episodes
        drawn = _episodes(named, episodes, recordings[0], recordings[place], role, members) if episodes else 0
        defect, statement = _statement(named, role if len(comparison.pairs) > 1 else "", comparison, members)
        found.append(
            BundledUnit(
                role=role,
                label=named.unit,
                defect=defect,
                statement=statement,
                episodes=_counts(episodes),
                drawn=drawn,
            )
        )
    return tuple(found)


def _counts(episodes: Sequence[Episode]) -> tuple[tuple[str, int], ...]:
    return tuple((finding.value, sum(episode.finding is finding for episode in episodes)) for finding in Finding)


def statement_pages(comparison: Comparison) -> dict[str, bytes]:
    """The page for the maker of each unit, by its name."""
    pages: dict[str, bytes] = {}
    for place, named in enumerate(named_pairs(comparison), start=1):
        _statement(named, unit_role(place) if len(comparison.pairs) > 1 else "", comparison, pages)
    return {name: content for name, content in pages.items() if name.endswith(".html")}


def _statement(named: Named, role: str, comparison: Comparison, members: dict[str, bytes]) -> tuple[bool, str]:
    from wattwitness.render.evidence.statement_page import statement_page
    from wattwitness.render.evidence.statement_text import statement_text
    from wattwitness.sections.small_print import of_statement
    from wattwitness.sections.statement import statement_of

    statement = statement_of(named.pair, named.reference, named.unit)
    stem = "statement-of-defect" if statement.defect else "no-defect-stated"
    stem = f"{stem}-{role}" if role else stem
    small = of_statement(comparison, named.pair)
    page = statement_page(statement, version=comparison.version, small_print=small)
    members[f"{stem}.html"] = page.encode("utf-8")
    members[f"{stem}.md"] = statement_text(statement, small_print=small).encode("utf-8")
    return statement.defect, f"{stem}.html"


def _episodes(
    named: Named,
    episodes: Sequence[Episode],
    reference: Recording,
    unit: Recording,
    role: str,
    members: dict[str, bytes],
) -> int:
    """The table of all episodes, and a folder for each of the largest; returns how many got one."""
    from wattwitness.charts.episode import build
    from wattwitness.render.evidence.figures import episode_files
    from wattwitness.writers.episodes_table import episodes_table

    pair = named.pair
    sentences = [
        _plain(sentence_starts(episode_sentence(episode, named.reference, named.unit))) for episode in episodes
    ]
    members[f"episodes/{role}/episodes.csv"] = episodes_table(episodes, sentences)
    about = sentence_start(
        f"{named.unit} against {named.reference}; intervals {percent_level(pair.overall.bias_pct.level)}"
    )
    drawn = sorted(range(len(episodes)), key=lambda k: _size(episodes[k]), reverse=True)[:MOST_DRAWN]
    for k in sorted(drawn):
        folder = f"episodes/{role}/episode-{k + 1:02d}"
        members[f"{folder}/in-words.txt"] = (sentences[k] + "\n").encode("utf-8")
        for ending, content in episode_files(build(pair, episodes[k], place=k + 1), about).items():
            members[f"{folder}/figure{ending}"] = content
        for name, content in _samples(pair, reference, unit, role, episodes[k]).items():
            members[f"{folder}/{name}.csv"] = content
    return len(drawn)


def _samples(
    pair: PairComparison, reference: Recording, unit: Recording, role: str, episode: Episode
) -> dict[str, bytes]:
    from wattwitness.writers.episode_samples import episode_samples

    if not reference.time_s.size:
        return {}
    first_s = float(reference.time_s[0])
    on_reference = {REFERENCE: np.asarray(reference.time_s), role: to_reference_s(pair.clock, unit.time_s)}
    on_unit = {REFERENCE: to_unit_s(pair.clock, reference.time_s), role: np.asarray(unit.time_s)}
    return {
        name: episode_samples(
            recording,
            ride_s=on_reference[name] - first_s,
            reference_clock_s=on_reference[name],
            unit_clock_s=on_unit[name],
            dated=(reference.dated, unit.dated),
            episode_s=(episode.start_s, episode.end_s),
            around_s=AROUND_S,
        )
        for name, recording in ((REFERENCE, reference), (role, unit))
    }


def _size(episode: Episode) -> tuple[bool, float, float]:
    """What a reader wants to see first: the unit's episodes, by energy, then by length."""
    return (episode.finding is Finding.UNIT, abs(episode.energy_kj.value or 0.0), episode.duration_s)


def _plain(text: str) -> str:
    return text.replace(NBSP, " ")
