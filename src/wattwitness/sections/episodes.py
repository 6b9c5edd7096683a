"""Episodes: when the unit left its own behaviour, and what every witness says of it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from wattwitness.charts import panels
from wattwitness.conformity.fault_rate import rate_interval
from wattwitness.model.comparison import Comparison
from wattwitness.model.episodes import Episode, FaultsFound, Finding, Witness
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.settings import CompareSettings
from wattwitness.sections.building import AlsoUnassessed, Block, Named, for_each_unit, not_assessed_paragraph
from wattwitness.words.episodes import (
    FINDINGS,
    WITHOUT_DEPTH,
    WITNESSES,
    kind_at_fault,
    kind_words,
    odds_words,
)
from wattwitness.words.estimates import because, holds_zero, interval_cell, listed, reads_briefly, value_cell
from wattwitness.words.faults import (
    episodes_with,
    faults_of,
    hours_words,
    lost_words,
    own_sentences,
    reference_sentence,
    rider_sentence,
    unclear_words,
)
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import ABSENT, NBSP, clock_time, number, percent_level, quantity, typeset
from wattwitness.words.parts import channel_words

NAME = "episodes"
TITLE = "When the number left the effort"
MOST_REASONS = 3
MOST_ACCOUNTS = 24
"""More accounts than these are left to page and JSON."""
LONGEST_SENTENCE = 600


def build(comparison: Comparison) -> Section | None:
    """The episodes of each unit."""
    return for_each_unit(comparison, NAME, TITLE, partial(_blocks, comparison.settings))


def _blocks(settings: CompareSettings, named: Named) -> Iterator[Block]:
    faults = faults_of(named.pair)
    if faults is None:
        yield _not_looked_for(named)
        return
    yield from _of_unit(faults, named)
    yield from _unclear(faults, named)
    for sentence in (reference_sentence(faults, named.unit, named.reference), rider_sentence(faults)):
        if sentence:
            yield Paragraph(text=sentence)
    yield Paragraph(text=_how_often(faults, named, settings), tone=Tone.NOTE)
    if faults.episodes:
        yield _bias_without(faults, named)
        for pattern in faults.patterns:
            yield Paragraph(text=_whole(pattern.says))
        yield _table(faults)
        yield from _accounts(faults)


def _not_looked_for(named: Named) -> Paragraph:
    """Why no episode could be looked for; never that there is none."""
    pair, subject = named.pair, "Freedom from faults"
    for what in (NAME, "faults"):
        if any(item.what == what for item in pair.not_assessed):
            return not_assessed_paragraph(named, what, subject)
    if pair.reference.spot or pair.unit.spot:
        why = "only single readings were noted, and nothing is known of what was shown between them"
    elif pair.overall.bias_pct.not_assessed:
        why = because(pair.overall.bias_pct.not_assessed)
        return AlsoUnassessed(text=f"{subject} of {named.unit} was not assessed: {why}.")
    else:
        why = "no episode was looked for"
    return Paragraph(text=f"{subject} of {named.unit} was not assessed: {why}.")


def _of_unit(faults: FaultsFound, named: Named) -> Iterator[Paragraph]:
    own = episodes_with(faults, Finding.UNIT)
    if not own:
        return
    went_on = _went_on(own)
    lost = lost_words(faults)
    said = [own_sentences(faults, named.unit), went_on, lost]
    yield Paragraph(text=" ".join(sentence for sentence in said if sentence), tone=Tone.WARNING)


def _went_on(own: tuple[Episode, ...]) -> str:
    """What shows that the effort went on: the changes of the channels that speak against the unit, in one episode."""
    example = max(own, key=_size)
    said = [
        f"{WITNESSES[witness.kind]} changed by {_change(witness.change)}"
        for witness in example.witnesses
        if witness.supports is Finding.UNIT and witness.change.assessed
    ]
    if not said:
        return ""
    at = "" if len(own) == 1 else f" in the one at {clock_time(example.start_s)}"
    return f"The effort went on{at}: {listed(said)}."


def _change(change: Estimate) -> str:
    value, span = value_cell(change), interval_cell(change)
    return f"{value}{NBSP}{change.unit} ({span})"


def _size(episode: Episode) -> float:
    """How much of an episode there is to see: energy, else depth times duration."""
    energy = episode.energy_kj.value
    return abs(energy) if energy is not None else abs(episode.depth_pct.value or 0.0) * episode.duration_s / 1e3


def _unclear(faults: FaultsFound, named: Named) -> Iterator[Paragraph]:
    unclear = episodes_with(faults, Finding.UNDETERMINED)
    if not unclear:
        return
    reasons = list(dict.fromkeys(_whole(episode.reason) for episode in unclear))[:MOST_REASONS]
    yield Paragraph(text=" ".join([unclear_words(faults, named.unit, named.reference), *reasons]), tone=Tone.WARNING)


def _whole(text: str) -> str:
    """A sentence from a lower room, on one line, with the report's signs and a full stop."""
    said = sentence_start(clean(typeset(text), longest=LONGEST_SENTENCE))
    return said if said.endswith((".", "!", "?", "…", "\u2069")) else f"{said}."


def _how_often(faults: FaultsFound, named: Named, settings: CompareSettings) -> str:
    """What the count of one ride shows of how often it happens, and what it does not."""
    own = len(episodes_with(faults, Finding.UNIT))
    unclear = len(episodes_with(faults, Finding.UNDETERMINED))
    level = settings.level
    if own:
        return (
            f"Looked for over {hours_words(faults)} that both recorded. Episodes of one ride may come together, so "
            "their count is no rate: how often it happens takes more rides."
        )
    _, bound = rate_interval(unclear, faults.hours, 2 * level - 1)
    least = f"{quantity(settings.episode_depth_pct, '%', 0)} or {quantity(settings.episode_duration_s, 's', 0)}"
    kept = "No episode was found" if not faults.episodes else f"No episode is put down to {named.unit}"
    counted = ", with those counted that cannot be told" if unclear else ""
    return (
        f"{kept} in {hours_words(faults)} that both recorded. That shows no more than fewer than "
        f"{number(bound, 1)} an hour{counted} (one-sided {percent_level(level)} bound of an exact Poisson rate), on "
        f"such a ride; drops, surges and steps under {least} are not told. {_asked(faults)}"
    ).strip()


def _asked(faults: FaultsFound) -> str:
    others = [channel_words(name) for name in faults.channels if channel_words(name) != "power"]
    if not others:
        return "Beside both powers no channel could have been asked."
    return f"Beside both powers {listed(others)} could have been asked."


def _bias_without(faults: FaultsFound, named: Named) -> Paragraph:
    with_them, without = named.pair.overall.bias_pct, faults.bias_without_pct
    fault = [episode for episode in faults.episodes if episode.finding is not Finding.RIDER]
    if not fault:
        return Paragraph(text="A change of the effort is no fault: the bias counts it like any other second.")
    if not without.assessed:
        why = because(without.not_assessed or "")
        return Paragraph(text=f"What the bias is outside the episodes was not assessed: {why}.")
    same = ""
    if with_them.assessed and holds_zero(without) and not holds_zero(with_them):
        same = " So the bias of the whole ride may be that of the episodes alone."
    return Paragraph(
        text=f"{sentence_start(named.unit)} over the whole ride: {reads_briefly(with_them)}; outside the episodes, "
        f"those of the rider apart: {reads_briefly(without)}.{same}"
    )


def _table(faults: FaultsFound) -> Table:
    level = percent_level(faults.episodes[0].depth_pct.level)
    return Table(
        caption="Every episode, in order of time",
        columns=(
            Column(heading="", numeric=True),
            Column(heading="what", numeric=False),
            Column(heading="from", unit="h:mm:ss"),
            Column(heading="to", unit="h:mm:ss"),
            Column(heading="unit against its own relation", unit="%"),
            Column(heading=f"{level} interval", unit="%"),
            Column(heading="energy missing", unit="kJ"),
            Column(heading="put down to", numeric=False),
            Column(heading="unit at fault rather than reference", numeric=False),
        ),
        rows=tuple(_row(k, episode) for k, episode in enumerate(faults.episodes, start=1)),
        places=tuple((episode.start_s, episode.end_s) for episode in faults.episodes),
        leads_to=panels.NAME,
    )


def _row(place: int, episode: Episode) -> tuple[str, ...]:
    told = episode.kind not in WITHOUT_DEPTH
    decimals = 0 if abs(episode.depth_pct.value or 0.0) >= 10 else 1
    return (
        str(place),
        kind_words(kind_at_fault(episode)),
        clock_time(episode.start_s),
        f"{clock_time(episode.end_s)}{', the end' if episode.lasts else ''}",
        value_cell(episode.depth_pct, decimals) if told else ABSENT,
        interval_cell(episode.depth_pct, decimals) if told else ABSENT,
        value_cell(episode.energy_kj),
        FINDINGS[episode.finding],
        odds_words(episode.odds) or "not weighed",
    )


def _accounts(faults: FaultsFound) -> Iterator[Table]:
    rows = tuple(
        _account(place, episode, witness)
        for place, episode in enumerate(faults.episodes, start=1)
        for witness in episode.witnesses
    )
    if rows:
        yield Table(
            caption="What each witness says",
            columns=(
                Column(heading="episode", numeric=False),
                Column(heading="witness", numeric=False),
                Column(heading="speaks against", numeric=False),
                Column(heading="its account", numeric=False),
            ),
            rows=rows,
            folded=len(rows) > MOST_ACCOUNTS,
        )


def _account(place: int, episode: Episode, witness: Witness) -> tuple[str, ...]:
    against = "nobody" if witness.supports is Finding.UNDETERMINED else FINDINGS[witness.supports]
    return (f"{place}, {clock_time(episode.start_s)}", WITNESSES[witness.kind], against, _whole(witness.says))
