"""Episodes: when the unit left its own behaviour, and what every witness says of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

from wattwitness.charts import panels
from wattwitness.conformity.fault_rate import rate_interval
from wattwitness.model.comparison import Comparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.settings import CompareSettings
from wattwitness.sections.building import AlsoUnassessed, Block, Named, for_each_unit, not_assessed_paragraph
from wattwitness.words.episodes import (
    FINDINGS_IN_A_CELL,
    WITHOUT_DEPTH,
    WITNESSES,
    kind_at_fault,
    kind_words,
    odds_cell,
)
from wattwitness.words.estimates import because, holds_zero, interval_cell, listed, reads_briefly, value_cell
from wattwitness.words.faults import (
    WITH_DEPTH_TOLD,
    episodes_with,
    faults_of,
    hours_words,
    levels_unclear,
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
TITLE = "Does it ever leave the effort"
MOST_REASONS = 3
MOST_ACCOUNTS = 24
"""More accounts than these are left to page and JSON."""
LONGEST_SENTENCE = 600
READING = (
    "Depth is the change of the unit against its own relation to the reference, or of the effort where it is put down "
    "to the rider. Odds say how many to one the unit is at fault rather than the reference, all witnesses together."
)
GOES_ON = (EpisodeKind.DROP, EpisodeKind.ZEROS)
"""What the unit shows as an effort that fell."""


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
        yield Paragraph(text=READING, tone=Tone.NOTE)
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
    if unclear := levels_unclear(faults, named.unit):
        yield Paragraph(text=unclear, tone=Tone.WARNING)


def _went_on(own: tuple[Episode, ...]) -> str:
    """What the other channels did meanwhile, in the largest of the unit's episodes."""
    example = max(own, key=lambda episode: (episode.kind in WITH_DEPTH_TOLD, _size(episode)))
    heard: dict[WitnessKind, Estimate] = {}
    for witness in example.witnesses:
        if witness.change.assessed and witness.kind is not WitnessKind.SURFACE:
            heard.setdefault(witness.kind, witness.change)
    if not heard:
        return ""
    did = [f"{WITNESSES[kind]} by {_change(change)}" for kind, change in heard.items()]
    did[0] = did[0].replace(" by ", " changed by ", 1)
    at = "" if len(own) == 1 else f" in the one at {clock_time(example.start_s)}"
    lead = "The effort went on" if example.kind in GOES_ON else "Meanwhile"
    return f"{lead}{at}: {listed(did)}."


def _change(change: Estimate) -> str:
    return f"{value_cell(change)}{NBSP}{change.unit} ({interval_cell(change)})"


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
    counted = ", the unclear ones counted" if unclear else ""
    return (
        f"{kept} in {hours_words(faults)} that both recorded. That shows only that there are fewer than "
        f"{_rounded_up(bound)} an hour{counted} (one-sided {percent_level(level)} bound of an exact Poisson rate), on "
        f"such a ride; drops, surges and steps under {least} are not told. {_asked(faults)}"
    ).strip()


def _rounded_up(bound: float) -> str:
    """An upper bound in two digits or so, never written lower than it is."""
    decimals = 1 if bound >= 1 else 2
    return number(math.ceil(bound * 10**decimals) / 10**decimals, decimals)


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
    rider = " What the rider did is no fault and stays in." if len(fault) < len(faults.episodes) else ""
    return Paragraph(
        text=f"{sentence_start(named.unit)} over the whole ride: {reads_briefly(with_them)}; without the episodes: "
        f"{reads_briefly(without)}.{rider}{same}"
    )


def _table(faults: FaultsFound) -> Table:
    level = percent_level(faults.episodes[0].depth_pct.level)
    return Table(
        caption="Every episode, in order of time",
        columns=(
            Column(heading="episode", numeric=False),
            Column(heading="from", unit="h:mm:ss"),
            Column(heading="to", unit="h:mm:ss"),
            Column(heading=f"depth ({level} interval)", unit="%"),
            Column(heading="energy missing", unit="kJ"),
            Column(heading="put down to", numeric=False),
            Column(heading="odds", numeric=False),
        ),
        rows=tuple(_row(k, episode) for k, episode in enumerate(faults.episodes, start=1)),
        places=tuple((episode.start_s, episode.end_s) for episode in faults.episodes),
        leads_to=panels.NAME,
    )


def _row(place: int, episode: Episode) -> tuple[str, ...]:
    return (
        f"{place}. {kind_words(kind_at_fault(episode))}{' to the end' if episode.lasts else ''}",
        clock_time(episode.start_s),
        clock_time(episode.end_s),
        _depth(episode),
        value_cell(episode.energy_kj),
        FINDINGS_IN_A_CELL[episode.finding],
        odds_cell(episode.odds),
    )


def _depth(episode: Episode) -> str:
    """``−31 (−34 to −28)``; a dash where a depth means nothing or is not known."""
    if episode.kind in WITHOUT_DEPTH or not episode.depth_pct.assessed:
        return ABSENT
    decimals = 0 if abs(episode.depth_pct.value or 0.0) >= 10 else 1
    return f"{value_cell(episode.depth_pct, decimals)} ({interval_cell(episode.depth_pct, decimals)})"


def _accounts(faults: FaultsFound) -> Iterator[Table]:
    rows = tuple(
        _account(place, witness)
        for place, episode in enumerate(faults.episodes, start=1)
        for witness in episode.witnesses
    )
    if rows:
        yield Table(
            caption="What each witness says",
            columns=(
                Column(heading="episode and witness", numeric=False),
                Column(heading="its account", numeric=False),
            ),
            rows=rows,
            folded=len(rows) > MOST_ACCOUNTS,
        )


def _account(place: int, witness: Witness) -> tuple[str, str]:
    """``3. cadence`` and what it says, with whom it speaks against by itself."""
    against = {
        Finding.UNIT: "It speaks against the unit.",
        Finding.REFERENCE: "It speaks against the reference.",
        Finding.RIDER: "It speaks for a change of effort.",
        Finding.UNDETERMINED: "By itself it decides nothing.",
    }[witness.supports]
    return f"{place}. {WITNESSES[witness.kind]}", f"{_whole(witness.says)} {against}"
