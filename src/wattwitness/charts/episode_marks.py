"""Episodes as shaded stretches of a chart over time, as a list beside it, and in words for who cannot see it."""

from __future__ import annotations

from wattwitness.model.chart import Place, Role, Shading, Span
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, Finding
from wattwitness.words.episodes import kind_at_fault, kind_words, where_words
from wattwitness.words.estimates import counted
from wattwitness.words.faults import WITH_DEPTH_TOLD, faults_of, length_words
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, clock_time, number

LIST_TITLE = "Episodes"
MOST_NAMED = 6
LOOKS = {
    Finding.UNIT: (Role.FAULT, Shading.PLAIN, "put down to the unit"),
    Finding.REFERENCE: (Role.REFERENCE, Shading.FALLING, "put down to the reference"),
    Finding.RIDER: (Role.OTHER, Shading.DOTTED, "put down to the rider"),
    Finding.UNDETERMINED: (Role.LIMIT, Shading.RISING, "unclear whose"),
}
"""Who an episode is put down to: role, filling and words."""


def episode_spans(pair: PairComparison) -> tuple[Span, ...]:
    """Every episode as a shaded stretch, named by who it is put down to."""
    faults = faults_of(pair)
    return tuple(_span(episode) for episode in faults.episodes) if faults is not None else ()


def left_out_spans(pair: PairComparison) -> tuple[Span, ...]:
    """Every stretch that the tester left out."""
    return tuple(
        Span(
            name="left out by the tester",
            role=Role.EXPECTED,
            start=stretch.from_s,
            end=stretch.to_s,
            shading=Shading.FALLING,
        )
        for stretch in pair.stretches_out
    )


def episode_places(pair: PairComparison) -> tuple[Place, ...]:
    """Every episode as an entry of the list beside the panels."""
    faults = faults_of(pair)
    return tuple(_place(episode) for episode in faults.episodes) if faults is not None else ()


def episodes_seen(pair: PairComparison) -> str:
    """The shaded stretches in a sentence; empty where there is none."""
    faults = faults_of(pair)
    if faults is None or not faults.episodes:
        return ""
    told = [
        f"{kind_words(kind_at_fault(episode))} {where_words(episode)}, {LOOKS[episode.finding][2]}"
        for episode in faults.episodes[:MOST_NAMED]
    ]
    more = len(faults.episodes) - len(told)
    rest = f"; {number(more, 0)} more stand in the table of episodes" if more else ""
    return f"Shaded: {counted(len(faults.episodes), 'episode')}. {sentence_start('; '.join(told))}{rest}."


def _span(episode: Episode) -> Span:
    role, shading, words = LOOKS[episode.finding]
    return Span(name=words, role=role, start=episode.start_s, end=episode.end_s, shading=shading)


def _place(episode: Episode) -> Place:
    role, shading, words = LOOKS[episode.finding]
    return Place(
        title=sentence_start(f"{kind_words(kind_at_fault(episode))}{_depth(episode)}"),
        says=f"at {clock_time(episode.start_s)}, {length_words(episode)}, {words}",
        role=role,
        shading=shading,
        start=episode.start_s,
        end=episode.end_s,
    )


def _depth(episode: Episode) -> str:
    """``, −31 %``: the change of the unit; where the reference is at fault its own is not what was measured."""
    value = episode.depth_pct.value
    if value is None or episode.kind not in WITH_DEPTH_TOLD or episode.finding is Finding.REFERENCE:
        return ""
    return f", {number(value, 0 if abs(value) >= 10 else 1, signed=True)}{NBSP}%"
