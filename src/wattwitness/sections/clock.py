"""How the two clocks were matched, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wattwitness.charts import clock_windows
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading
from wattwitness.words.estimates import counted, holds_zero, interval_cell, missing_words, value_cell, with_interval
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, clock_time, number, quantity, seconds_offset, typeset
from wattwitness.words.parts import channel_words

NAME = "clock"
TITLE = "The clock"
STATUS = {
    ClockStatus.FOUND: "found",
    ClockStatus.FOUND_WITH_DELAY: "found, but for the delay of the display",
    ClockStatus.AMBIGUOUS: "ambiguous",
    ClockStatus.NO_COMMON_EFFORT: "no common effort",
    ClockStatus.SAME_SOURCE: "the same recording twice",
    ClockStatus.BY_HAND: "given by hand",
}


def build(comparison: Comparison) -> Section | None:
    """The clock of each unit against the reference's."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    clock = named.pair.clock
    yield Paragraph(text=_sentence(named))
    if math.isfinite(abs(clock.offset_s.value or 0.0)) and abs(clock.offset_s.value or 0.0) > 1e7:
        text = "One of the two files carries no date and starts at its own zero, hence the large offset."
        yield Paragraph(text=text)
    if clock.windows.at_s.size:
        yield clock_windows.build(named.pair)
    yield _table(clock)
    if clock.jumps:
        yield _jumps(clock)
    if len(clock.candidates) > 1:
        yield _candidates(clock)


def _sentence(named: Named) -> str:
    clock, unit = named.pair.clock, named.unit
    if not clock.status.usable or clock.offset_s.value is None:
        return typeset(clock.reason) or f"No clock was found for {unit}."
    if clock.status is ClockStatus.BY_HAND:
        return (
            f"By hand, {seconds_offset(clock.offset_s.value)} was given as what to add to the time stamps of {unit} to "
            f"get those of {named.reference}. {typeset(clock.reason)}"
        )
    source = f" on {channel_words(clock.channel)}" if clock.channel is not None else ""
    text = (
        f"Adding {seconds_offset(clock.offset_s.value)} to the time stamps of {unit} gives those of "
        f"{named.reference}; the two were matched{source}. {_drift(clock, unit)}"
    )
    if clock.jumps:
        text += f" There {'is' if len(clock.jumps) == 1 else 'are'} {counted(len(clock.jumps), 'jump')}."
    return text


def _drift(clock: ClockFit, unit: str) -> str:
    drift = clock.drift_ppm
    if drift.value is None:
        return f"The drift was {missing_words(drift)}."
    if holds_zero(drift):
        return f"No drift between the clocks is shown: {with_interval(drift, 0)}."
    pace = "fast" if drift.value < 0 else "slow"
    hour = quantity(abs(drift.value) * 3600e-6, "s", 2)
    return (
        f"{sentence_start(unit)}’s clock runs {pace} by {quantity(abs(drift.value), 'ppm', 0)} "
        f"({interval_cell(drift, 0)}{NBSP}ppm), {hour} an hour."
    )


def _table(clock: ClockFit) -> Table:
    by_hand = clock.status is ClockStatus.BY_HAND
    offset = (
        f"{seconds_offset(clock.offset_s.value)}, taken as exact"
        if by_hand and clock.offset_s.value is not None
        else ""
    )
    rows = [
        ("status", STATUS[clock.status]),
        ("matched on", channel_words(clock.channel) if clock.channel is not None else "–"),
        ("offset at mid-ride", offset or with_interval(clock.offset_s, 2)),
        ("standard uncertainty of the offset", quantity(clock.standard_uncertainty_s, "s", 3)),
        ("drift", with_interval(clock.drift_ppm, 0)),
        ("next best offset’s correlation over the best’s", number(clock.runner_up_ratio, 3)),
    ]
    return Table(
        caption="The clock in numbers",
        columns=(Column(heading="what", numeric=False), Column(heading="value", numeric=False)),
        rows=tuple(rows),
    )


def _jumps(clock: ClockFit) -> Table:
    return Table(
        caption="Jumps: changes of the seconds to add",
        columns=(
            Column(heading="at", unit="h:mm:ss"),
            Column(heading="step", unit="s"),
            Column(heading=interval_heading(clock.jumps[0].step_s), unit="s"),
            Column(heading="cause", numeric=False),
        ),
        rows=tuple(
            (
                clock_time(jump.at_s.value),
                value_cell(jump.step_s, 2),
                interval_cell(jump.step_s, 2),
                typeset(jump.cause) or "not told by the files",
            )
            for jump in clock.jumps
        ),
        places=tuple(
            None if jump.at_s.value is None else (jump.at_s.value - 60, jump.at_s.value + 60) for jump in clock.jumps
        ),
    )


def _candidates(clock: ClockFit) -> Table:
    return Table(
        caption="Offsets that the efforts allow, best first",
        columns=(Column(heading="offset", unit="s"), Column(heading="correlation")),
        rows=tuple(
            (number(candidate.offset_s, 2, signed=True), number(candidate.correlation, 3))
            for candidate in clock.candidates
        ),
        folded=True,
    )
