"""What is stated to a maker of one unit: the defect on a page, or in plain words that none is stated, and why."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wattwitness.charts import episode as episode_chart
from wattwitness.model.chart import Chart
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding, Pattern
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.statement_grounds import OF_ONE_RECORD, reproduction, ruled_out, uncertainty
from wattwitness.words.episodes import (
    READ_OFF,
    WITHOUT_DEPTH,
    depth_words,
    kind_words,
    kinds_counted,
    odds_words,
    where_words,
)
from wattwitness.words.estimates import counted, interval_cell, listed, reads, value_cell
from wattwitness.words.faults import levels_unclear
from wattwitness.words.names import clean, sentence_start, sentence_starts
from wattwitness.words.numbers import ABSENT, NBSP, clock_time, long_duration, number, percent_level, quantity, typeset
from wattwitness.words.one_number import likeliest_causes, never_moves, what_to_look_at

MOST_ROWS = 12
HOW_OFTEN = "how_often"
OF_THE_RECORDER = (EpisodeKind.MISSING, EpisodeKind.CLOCK_JUMP)
"""Kinds that are no number shown, but the want of one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Statement:
    """One page on one unit. ``defect`` says that a defect is stated; without, the page says that none is, and why."""

    title: str
    subtitle: str
    defect: bool
    sections: tuple[Section, ...]


def statement_of(pair: PairComparison, reference: str, unit: str) -> Statement:
    """The page on the unit of ``pair``; the names are those shown."""
    faults = pair.faults
    stated = () if faults is None or never_moves(pair, reference, unit) else of_unit(faults)
    if faults is None or not stated:
        sections: tuple[Section, ...] = (_nothing(pair, faults, reference, unit),)
    else:
        sections = tuple(_defect(pair, faults, stated, reference, unit))
    title = f"Statement of a defect of {unit}" if stated else f"No defect of {unit} is stated"
    return Statement(
        title=title,
        subtitle=_subtitle(pair, reference),
        defect=bool(stated),
        sections=(*sections, _origin(pair, reference, unit)),
    )


def of_unit(faults: FaultsFound) -> tuple[Episode, ...]:
    """The episodes that are put down to the unit: the only ones a defect is stated on."""
    return tuple(episode for episode in faults.episodes if episode.finding is Finding.UNIT)


def _subtitle(pair: PairComparison, reference: str) -> str:
    date = pair.reference.first_sample_utc[:10]
    ride = f"Ride of {date}" if date else "An undated ride"
    return f"{ride}, {long_duration(pair.reference.duration_s)}, measured with {reference}"


def _defect(
    pair: PairComparison, faults: FaultsFound, stated: tuple[Episode, ...], reference: str, unit: str
) -> Iterator[Section]:
    yield Section(
        name="what",
        title="What happens",
        blocks=(*_what(stated, unit), *_which_level(faults, unit), _table(stated), _figure(pair, faults, stated)),
    )
    yield Section(name="when", title="How often, and when", blocks=tuple(_when(faults, stated, unit)))
    yield Section(name="ruled-out", title="What was ruled out", blocks=tuple(ruled_out(stated, reference, unit)))
    yield Section(
        name="uncertainty",
        title="How sure this is",
        blocks=tuple(uncertainty(pair, faults, stated, reference, unit)),
    )
    yield Section(name="reproduce", title="How to see it again", blocks=tuple(reproduction(stated, unit)))


def _which_level(faults: FaultsFound, unit: str) -> Iterator[Paragraph]:
    """That the sound part of the ride may be the other one, where it may."""
    if unclear := levels_unclear(faults, unit):
        yield Paragraph(text=unclear, tone=Tone.WARNING)


def _what(stated: tuple[Episode, ...], unit: str) -> Iterator[Paragraph]:
    gaps = tuple(episode for episode in stated if episode.kind in OF_THE_RECORDER)
    shown = tuple(episode for episode in stated if episode not in gaps)
    departs = f"The power that {unit} shows departs from the effort while the effort goes on"
    leaves = f"The record of {unit} has breaks in time"
    if shown:
        yield Paragraph(text=_lead(departs, shown), tone=Tone.HEADLINE)
    if gaps:
        yield Paragraph(text=_lead(leaves, gaps), tone=Tone.PLAIN if shown else Tone.HEADLINE)
        yield Paragraph(text="What broke it, bike, radio or recorder, cannot be read from a record.", tone=Tone.NOTE)
    if any(episode.kind is EpisodeKind.ZEROS for episode in stated):
        yield Paragraph(
            text=f"Whether {unit} itself showed zero, or the recorder wrote zeros while it had no connection, cannot "
            "be read from a record: look at a display when it happens again.",
            tone=Tone.NOTE,
        )
    yield from _lost(stated)


def _lead(says: str, episodes: tuple[Episode, ...]) -> str:
    """What is said of some episodes: counted, or of an only one when and how deep."""
    if len(episodes) > 1:
        return f"{says}: {kinds_counted(episodes)} in this ride."
    (only,) = episodes
    depth = depth_words(only)
    return f"{says}: one {kind_words(only.kind)} {where_words(only)}{', ' + depth if depth else ''}."


def _lost(stated: tuple[Episode, ...]) -> Iterator[Paragraph]:
    energies = [episode.energy_kj for episode in stated if episode.energy_kj.assessed]
    if energies:
        total = sum(energy.value or 0.0 for energy in energies)
        low, high = sum(energy.low or 0.0 for energy in energies), sum(energy.high or 0.0 for energy in energies)
        share = sum(episode.energy_share_pct or 0.0 for episode in stated)
        verb = "lost" if total >= 0 else "gained"
        bounds = sorted((abs(low), abs(high))) if low * high >= 0 else [low, high]
        yield Paragraph(
            text=(
                f"Through it the record {verb} {quantity(abs(total), 'kJ', 1)} of work "
                f"({number(bounds[0], 1)} to {quantity(bounds[1], 'kJ', 1)}, the ends added up), "
                f"{quantity(abs(share), '%', 1)} of the ride’s."
            )
        )


def _table(stated: tuple[Episode, ...]) -> Table:
    shown = stated[:MOST_ROWS]
    level = percent_level(shown[0].depth_pct.level)
    more = f"; the first {MOST_ROWS} of {len(stated)}" if len(stated) > MOST_ROWS else ""
    return Table(
        caption=f"Episodes put down to the unit{more}",
        columns=(
            Column(heading="begins", unit="h:mm:ss"),
            Column(heading="lasts"),
            Column(heading="what", numeric=False),
            Column(heading="depth", unit="%"),
            Column(heading=f"{level} interval", unit="%"),
            Column(heading="energy missing", unit="kJ"),
            Column(heading="unit at fault rather than reference", numeric=False),
        ),
        rows=tuple(_row(episode) for episode in shown),
    )


def _row(episode: Episode) -> tuple[str, ...]:
    told = episode.kind not in WITHOUT_DEPTH
    bounded = told and episode.kind not in READ_OFF
    length = episode.duration_s
    return (
        clock_time(episode.start_s),
        "to the end" if episode.lasts else long_duration(length) if length >= 1 else quantity(length, "s", 1),
        kind_words(episode.kind),
        value_cell(episode.depth_pct, 0) if told else ABSENT,
        interval_cell(episode.depth_pct, 0) if bounded else ABSENT,
        value_cell(episode.energy_kj),
        "seen in its own record" if episode.kind in OF_ONE_RECORD else odds_words(episode.odds) or "not weighed",
    )


def _figure(pair: PairComparison, faults: FaultsFound, stated: tuple[Episode, ...]) -> Chart:
    """The chart of the episode that cost most, as the example."""
    example = max(stated, key=_size)
    place = faults.episodes.index(example) + 1
    return episode_chart.build(pair, example, place=place)


def _size(episode: Episode) -> float:
    """How much of an episode there is to see: energy, else depth times duration."""
    energy = episode.energy_kj.value
    return abs(energy) if energy is not None else abs(episode.depth_pct.value or 0.0) * episode.duration_s / 1e3


def _when(faults: FaultsFound, stated: tuple[Episode, ...], unit: str) -> Iterator[Paragraph]:
    minutes = [episode.start_s / 60 for episode in stated]
    begin = _range(minutes, "minutes into the ride", 0)
    times = f"{counted(len(stated), 'time')} in {quantity(faults.hours, 'h', 2)} recorded by both"
    said = [f"{sentence_start(times)}; {'it began' if len(stated) == 1 else 'they began'} {begin}."]
    conditions = []
    powers = [episode.before_w for episode in stated if episode.before_w is not None]
    rates = [episode.before_rpm for episode in stated if episode.before_rpm is not None]
    if powers:
        conditions.append(_range(powers, "W", 0))
    if rates:
        conditions.append(_range(rates, "rpm", 0))
    if conditions:
        said.append(f"Just before, the effort was {listed(conditions)}.")
    yield Paragraph(text=" ".join(said))
    told = [sentence_starts(typeset(pattern.says)) for pattern in faults.patterns if _tells(pattern)]
    if told:
        wider = any(episode.finding is Finding.UNDETERMINED for episode in faults.episodes)
        lead = "With those that cannot be told: " if wider else ""
        yield Paragraph(text=lead + " ".join(told))
    yield Paragraph(
        text=f"Episodes of one ride often come together: how often it happens takes more rides of {unit}.",
        tone=Tone.NOTE,
    )


def _tells(pattern: Pattern) -> bool:
    """Whether a pattern says more than that there are too few to tell."""
    return pattern.chance is not None or pattern.name == HOW_OFTEN


def _range(values: list[float], unit: str, decimals: int) -> str:
    low, high = number(min(values), decimals), number(max(values), decimals)
    return f"{low}{NBSP}{unit}" if low == high else f"{low} to {high}{NBSP}{unit}"


def _nothing(pair: PairComparison, faults: FaultsFound | None, reference: str, unit: str) -> Section:
    return Section(name="what", title="What was found", blocks=tuple(_nothing_blocks(pair, faults, reference, unit)))


def _nothing_blocks(pair: PairComparison, faults: FaultsFound | None, reference: str, unit: str) -> Iterator[Paragraph]:
    if still := never_moves(pair, reference, unit):
        yield Paragraph(text=_beside_the_other(pair, still, reference), tone=Tone.HEADLINE)
        yield Paragraph(
            text=f"{likeliest_causes(pair)} A recording cannot tell that from a meter at fault"
            f"{', and no witness independent of both meters spoke' if faults is not None else ''}: so nothing is "
            f"stated of {unit}, neither for nor against it."
        )
        yield Paragraph(text=what_to_look_at(pair), tone=Tone.NOTE)
        return
    if faults is None:
        yield Paragraph(text=f"Episodes of {unit} could not be looked for.", tone=Tone.HEADLINE)
        yield Paragraph(text=f"{_why_not(pair)} So nothing is stated of {unit}, neither for nor against it.")
        return
    hours = quantity(faults.hours, "h", 2)
    if not faults.episodes:
        yield Paragraph(text=f"No episode was found in {hours} that both recorded.", tone=Tone.HEADLINE)
    else:
        found = listed([f"{count} put down to {words}" for words, count in _by_finding(faults, reference)])
        yield Paragraph(
            text=f"{counted(len(faults.episodes), 'episode')} in {hours} that both recorded, none put down to {unit}: "
            f"{found}.",
            tone=Tone.HEADLINE,
        )
        undetermined = [episode for episode in faults.episodes if episode.finding is Finding.UNDETERMINED]
        for episode in undetermined[:5]:
            reason = sentence_starts(typeset(episode.reason))
            yield Paragraph(text=f"{sentence_start(kind_words(episode.kind))} {where_words(episode)}: {reason}")
    yield Paragraph(
        text="That is no proof that there is no defect: it may take another effort, a longer ride or more of them."
    )
    yield Paragraph(
        text=f"A steady error is no episode. Over the whole ride {unit} {reads(pair.overall.bias_with_reference_pct)}, "
        f"the uncertainty of {reference} included; whether that keeps a claim is not judged here."
        if pair.overall.bias_with_reference_pct.assessed
        else f"A steady error is no episode; over the whole ride {unit} {reads(pair.overall.bias_pct)}."
    )


def _beside_the_other(pair: PairComparison, still: str, reference: str) -> str:
    """What one shows throughout, with what the reference measured meanwhile where the two share a clock."""
    measured_w = pair.series.reference_w[np.isfinite(pair.series.reference_w)]
    if pair.unit.one_power_w is None or pair.reference.one_power_w is not None or not measured_w.size:
        return still
    mean_w = quantity(float(measured_w.mean()), "W", 0)
    return f"{still} {sentence_start(reference)} measured {mean_w} on average."


def _by_finding(faults: FaultsFound, reference: str) -> Iterator[tuple[str, int]]:
    for finding, words in (
        (Finding.REFERENCE, clean(reference)),
        (Finding.RIDER, "the rider"),
        (Finding.UNDETERMINED, "neither, since it cannot be told"),
    ):
        count = sum(episode.finding is finding for episode in faults.episodes)
        if count:
            yield words, count


def _why_not(pair: PairComparison) -> str:
    if not pair.clock.status.usable:
        return sentence_start(typeset(pair.clock.reason))
    for item in pair.not_assessed:
        if item.what in ("episodes", "faults", "bias_pct"):
            return sentence_start(typeset(item.why))
    return "The two recordings hold too little power in common."


def _origin(pair: PairComparison, reference: str, unit: str) -> Section:
    rows = []
    for name, role, recording in ((unit, "unit", pair.unit), (reference, "reference", pair.reference)):
        meter = recording.meter
        rows.append(
            (
                name,
                role,
                " ".join(clean(part) for part in (meter.maker, meter.product) if part) or ABSENT,
                clean(meter.firmware) or ABSENT,
                f"{recording.source.sha256[:16]}…" if recording.source.sha256 else ABSENT,
            )
        )
    table = Table(
        caption="As their files say",
        columns=tuple(
            Column(heading=heading, numeric=False)
            for heading in ("meter", "role", "make", "firmware", "SHA-256 of the original begins")
        ),
        rows=tuple(rows),
    )
    return Section(name="meters", title="The meters", blocks=(table,))
