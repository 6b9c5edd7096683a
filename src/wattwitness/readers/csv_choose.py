"""Which columns of a table to use: proposed from headings and cells, refused where two could be the power."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.recording import ChannelName, Notice, Severity
from wattwitness.readers.csv_columns import Heading
from wattwitness.readers.csv_numbers import parse_column
from wattwitness.readers.csv_stamps import StampForm, parse_colons
from wattwitness.readers.csv_time_kinds import TimeAsked, TimeKind
from wattwitness.readers.csv_times import form_of_column, looks_dated
from wattwitness.readers.words import listed

CHANNEL_WORDS: Mapping[ChannelName, str] = {
    ChannelName.POWER: "power",
    ChannelName.CADENCE: "cadence",
    ChannelName.HEART_RATE: "heart rate",
    ChannelName.TORQUE: "torque",
    ChannelName.RESISTANCE: "resistance",
    ChannelName.SPEED: "speed",
    ChannelName.TEMPERATURE: "temperature",
    ChannelName.LEFT_SHARE: "left share",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeChoice:
    """The time columns chosen, counted from 0 (one, or a date and a clock), and those passed over."""

    columns: tuple[int, ...]
    asked: TimeAsked
    others: tuple[Heading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelChoice:
    """One column for each channel that has one; ``unclear`` holds the candidates of a power that cannot be told."""

    channels: Mapping[ChannelName, Heading]
    unclear: tuple[Heading, ...] = ()
    notices: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    heading: Heading
    form: StampForm
    distinct: int
    steady: bool
    dated: bool


def choose_time(headings: Sequence[Heading], columns: Sequence[Sequence[str]], decimal: str) -> TimeChoice | None:
    """Choose the time among the headings, given a sample of each column's cells; None where there is none.

    Preferred are the finest times, among these dated ones, then a date and a clock side by side, then what counts from
    the start. A column of dates and times counts even under a strange heading.
    """
    named = [
        candidate
        for heading, cells in zip(headings, columns, strict=True)
        if heading.time and (candidate := _candidate(heading, cells, decimal))
    ]
    if not named:
        named = [
            candidate
            for heading, cells in zip(headings, columns, strict=True)
            if heading.channel is None
            and (candidate := _candidate(heading, cells, decimal))
            and (candidate.form is StampForm.DATE_TIME or (candidate.form is StampForm.COLON and not heading.text))
        ]
    dates = [item for item in named if item.form is StampForm.DATE]
    full = [item for item in named if item.form is not StampForm.DATE and item.steady]
    full = full or [item for item in named if item.form is not StampForm.DATE]
    if not full:
        return None
    finest = max(item.distinct for item in full)
    full = [item for item in full if item.distinct >= 0.9 * finest]
    dated = [item for item in full if item.dated]
    best = next((item for item in dated if item.heading.utc), dated[0] if dated else full[0])
    chosen = [best]
    if dates and not best.dated:
        clock = next((item for item in full if item.form is StampForm.COLON), None)
        if clock is not None and clock.heading.time_hint is not TimeKind.ELAPSED:
            best, chosen = clock, [dates[0], clock]
    others = tuple(item.heading for item in named if item not in chosen)
    return TimeChoice(
        columns=tuple(item.heading.position - 1 for item in chosen),
        asked=TimeAsked(hint=best.heading.time_hint, utc_offset_s=0.0 if best.heading.utc else None),
        others=others,
    )


def _candidate(heading: Heading, cells: Sequence[str], decimal: str) -> _Candidate | None:
    form = form_of_column(cells)
    if form is None:
        return None
    filled = [cell.strip() for cell in cells if cell.strip()]
    distinct = len(set(filled))
    if form is not StampForm.DATE and distinct == 1 and len(filled) >= 3:
        return None
    dated = form is StampForm.DATE_TIME
    steady = True
    if form is StampForm.NUMBER:
        values = parse_column(filled, decimal).values
        values = values[np.isfinite(values)]
        dated = looks_dated(values)
        steady = values.size < 2 or float(np.mean(np.diff(values) >= 0)) >= 0.95
    elif form is StampForm.COLON and not heading.time:
        times = parse_colons(filled)
        rising = np.diff(times.first * 3600 + times.second * 60 + np.nan_to_num(times.third))
        if rising.size and float(np.mean(rising >= 0)) < 0.95:
            return None
    return _Candidate(heading=heading, form=form, distinct=distinct, steady=steady, dated=dated)


def choose_channels(headings: Sequence[Heading], filled: Mapping[int, int]) -> ChannelChoice:
    """Choose a column for each channel, given how many numbers each column (counted from 0) holds.

    Power is never chosen from two: then it is unclear. So it is where only the two legs, or one of them, are there. For
    any other channel the first of several is taken, and that is said.
    """
    channels: dict[ChannelName, Heading] = {}
    notices: list[Notice] = []
    unclear: tuple[Heading, ...] = ()
    present = [heading for heading in headings if heading.channel and filled.get(heading.position - 1, 0)]
    for channel in ChannelName:
        of_channel = [heading for heading in present if heading.channel is channel]
        plain = [heading for heading in of_channel if not heading.aside]
        if channel is ChannelName.POWER:
            sides = [heading for heading in of_channel if heading.side and heading.aside.startswith("the ")]
            unclear = tuple(plain) if len(plain) > 1 else tuple(sides) if sides and not plain else ()
            if len(plain) == 1:
                channels[channel] = plain[0]
            notices += _about_power(of_channel, plain, headings)
        elif plain:
            channels[channel] = plain[0]
            notices += _about_several(channel, plain)
    return ChannelChoice(channels=channels, unclear=unclear, notices=tuple(notices))


def _about_power(of_channel: Sequence[Heading], plain: Sequence[Heading], headings: Sequence[Heading]) -> list[Notice]:
    aside = [heading for heading in of_channel if heading.aside and not heading.side]
    if len(plain) == 1:
        return [*_about_unit(plain[0]), *_about_asides(plain[0], [item for item in of_channel if item.aside])]
    if plain:
        return []
    if aside:
        which = listed([f"{heading.label} ({heading.aside})" for heading in aside])
        message = f"No column was taken as power: {which} is not what a meter measured each second."
        return [Notice(slug="no_power_column", message=message, severity=Severity.WARNING)]
    unused = [heading.label for heading in headings if heading.channel is None and not heading.time]
    rest = f" Not used: {listed(unused, 8)}." if unused else ""
    message = f"No column is headed as power.{rest} A saved mapping can say otherwise."
    return [Notice(slug="no_power_column", message=message, severity=Severity.WARNING)]


def _about_unit(taken: Heading) -> list[Notice]:
    if not taken.by_unit:
        return []
    message = f"{taken.label} was taken as power for its unit; its heading does not say what it is."
    return [Notice(slug="power_by_unit", message=message, severity=Severity.WARNING)]


def _about_asides(taken: Heading, left: Sequence[Heading]) -> list[Notice]:
    """Which other columns are of power too, and were not used."""
    if not left:
        return []
    which = listed([f"{heading.label} ({heading.aside})" for heading in left])
    message = f"The power comes from {taken.label}; {which} {'was' if len(left) == 1 else 'were'} not used."
    return [Notice(slug="other_power_not_used", message=message, severity=Severity.NOTE)]


def _about_several(channel: ChannelName, plain: Sequence[Heading]) -> list[Notice]:
    if len(plain) < 2:
        return []
    which = listed([heading.label for heading in plain])
    message = (
        f"{which} could each be the {CHANNEL_WORDS[channel]}; {plain[0].label}, the first, was used. "
        "A saved mapping can say otherwise."
    )
    return [Notice(slug="several_columns", message=message, severity=Severity.WARNING)]
