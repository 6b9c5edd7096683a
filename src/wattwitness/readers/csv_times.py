"""A table's time column into seconds: which kind of time it is, decided by its form, its heading and its increments."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import Notice, Severity
from wattwitness.readers.csv_numbers import is_number, parse_column
from wattwitness.readers.csv_stamps import (
    DAY_S,
    ColonCells,
    DateCells,
    StampForm,
    from_timestamp,
    parse_colons,
    parse_dates,
    stamp_form,
)
from wattwitness.readers.csv_ticks import carry_over, restarts, snap_to_seconds, spread_within_ticks, typical_step
from wattwitness.readers.csv_time_kinds import UNIT_S, DateOrder, TimeAsked, TimeAxis, TimeKind, TimeUnclear

SERIAL_ZERO_DAY = -25_569.0
"""Day 0 of spreadsheet serial days (1899-12-30) in days since 1970-01-01."""

_EPOCH_RANGE_S = (631_152_000.0, 4_102_444_800.0)
_SERIAL_RANGE = (32_874.0, 73_050.0)
_EPOCHS = (TimeKind.EPOCH_S, TimeKind.EPOCH_MS, TimeKind.EPOCH_US, TimeKind.EPOCH_NS)
_RELATIVE = (TimeKind.SECONDS, TimeKind.MILLISECONDS, TimeKind.MINUTES, TimeKind.HOURS, TimeKind.DAYS)
_FORM_CELLS = 300
_RUN_TOGETHER = re.compile("(?:19|20)[0-9]{2}[01][0-9][0-3][0-9][0-2][0-9][0-5][0-9][0-5][0-9]")
_LONGEST_RIDE_S = 24 * 3600.0


def form_of_column(cells: Sequence[str]) -> StampForm | None:
    """The form of at least half of the first cells that are not empty; None where there is no such form."""
    counts: dict[StampForm | None, int] = {}
    filled = [cell for cell in islice(cells, 4 * _FORM_CELLS) if cell.strip()][:_FORM_CELLS]
    for cell in filled:
        form = StampForm.NUMBER if is_number(cell) else stamp_form(cell)
        counts[form] = counts.get(form, 0) + 1
    for form in StampForm:
        if counts.get(form, 0) * 2 >= len(filled) and filled:
            return form
    return None


def looks_dated(values: FloatArray) -> bool:
    """Whether plain numbers are times since 1970, or spreadsheet days, of this age."""
    if values.size == 0:
        return False
    middle = float(np.median(values))
    if any(_EPOCH_RANGE_S[0] <= middle * UNIT_S[kind] <= _EPOCH_RANGE_S[1] for kind in _EPOCHS):
        return True
    return _SERIAL_RANGE[0] <= middle <= _SERIAL_RANGE[1] and typical_step(values) < 0.01


def read_times(columns: Sequence[Sequence[str]], asked: TimeAsked, decimal: str, rows: int) -> TimeAxis:
    """The time of each row from one column, or from a date column and a clock column, in that order.

    Raises TimeUnclear.
    """
    if asked.kind is TimeKind.ROW_NUMBER:
        return _by_row_number(rows, asked)
    if len(columns) == 2:
        return _from_date_and_clock(columns[0], columns[1], asked, decimal)
    cells = columns[0]
    form = form_of_column(cells)
    if form is StampForm.NUMBER and asked.kind in (None, TimeKind.DATE_TIME) and _run_together(cells):
        return _from_dates(parse_dates([f"{cell[:8]}T{cell[8:]}" for cell in cells]), asked)
    if form is StampForm.NUMBER:
        return _from_numbers(cells, asked, decimal)
    if form is StampForm.COLON:
        return _from_colons(parse_colons(cells), asked)
    if form is StampForm.DATE_TIME:
        return _from_dates(parse_dates(cells), asked)
    if form is StampForm.DATE:
        raise TimeUnclear("it holds dates without a time of day, and no column beside it holds clock times")
    raise TimeUnclear("its cells are no times that this tool knows")


def _run_together(cells: Sequence[str]) -> bool:
    """Whether the times are dates and times without any sign between their parts: ``20260112100000``."""
    first = next((cell for cell in cells if cell.strip()), "")
    return _RUN_TOGETHER.fullmatch(first.strip()) is not None


def _note(slug: str, message: str, samples: int | None = None, severity: Severity = Severity.NOTE) -> Notice:
    return Notice(slug=slug, message=message, severity=severity, samples=samples)


def _by_row_number(rows: int, asked: TimeAsked) -> TimeAxis:
    step_s = 1.0 if asked.step_s is None else asked.step_s
    message = f"The table has no times: its rows were taken as {step_s:g} s apart, as the saved mapping says."
    notice = _note("times_from_row_numbers", message, rows, Severity.WARNING)
    return TimeAxis(
        time_s=np.arange(rows, dtype=np.float64) * step_s, dated=False, kind=TimeKind.ROW_NUMBER, notices=(notice,)
    )


def _from_numbers(cells: Sequence[str], asked: TimeAsked, decimal: str) -> TimeAxis:
    values = parse_column(cells, decimal).values
    finite = values[np.isfinite(values)]
    if finite.size == 0:
        raise TimeUnclear("none of its cells is a number")
    kind, notices = (asked.kind, []) if asked.kind else _kind_of_numbers(finite, asked.hint)
    if kind is TimeKind.SERIAL_DAYS:
        time_s, moved = snap_to_seconds((values + SERIAL_ZERO_DAY) * DAY_S)
        if asked.utc_offset_s is not None:
            time_s = time_s - asked.utc_offset_s
        notices += _snapped(moved) + _zone_notice(asked)
        return _spread(time_s, True, kind, notices)
    if kind not in UNIT_S:
        raise TimeUnclear(f"its cells are plain numbers, which do not fit the kind “{kind}”", _RELATIVE + _EPOCHS)
    time_s = values * UNIT_S[kind]
    if kind in (TimeKind.MINUTES, TimeKind.HOURS, TimeKind.DAYS):
        time_s, moved = snap_to_seconds(time_s)
        notices += _snapped(moved)
    if kind is not TimeKind.SECONDS:
        notices.append(_note("times_converted", f"Times counted in {_kind_words(kind)} were turned into seconds."))
    return _spread(time_s, kind in _EPOCHS, kind, notices)


def _kind_words(kind: TimeKind) -> str:
    words = {
        TimeKind.EPOCH_S: "seconds since 1970",
        TimeKind.EPOCH_MS: "milliseconds since 1970",
        TimeKind.EPOCH_US: "microseconds since 1970",
        TimeKind.EPOCH_NS: "nanoseconds since 1970",
    }
    return words.get(kind, kind.value)


def _snapped(moved_s: float) -> list[Notice]:
    if moved_s < 1e-3:
        return []
    message = f"The times are rounded in the file; they fit whole seconds within {moved_s:.2g} s, which were used."
    return [_note("times_snapped", message)]


def _kind_of_numbers(values: FloatArray, hint: TimeKind | None) -> tuple[TimeKind, list[Notice]]:
    middle = float(np.median(values))
    for kind in _EPOCHS:
        if _EPOCH_RANGE_S[0] <= middle * UNIT_S[kind] <= _EPOCH_RANGE_S[1]:
            return kind, []
    step = typical_step(values)
    if _SERIAL_RANGE[0] <= middle <= _SERIAL_RANGE[1] and step < 0.01 and hint in (None, TimeKind.DAYS):
        return TimeKind.SERIAL_DAYS, []
    if hint in UNIT_S:
        return hint, []
    if not step > 0:
        raise TimeUnclear("its numbers do not increase", _RELATIVE)
    for kind in _RELATIVE:
        if abs(step * UNIT_S[kind] - 1.0) < 0.05:
            return kind, _guessed(kind, step)
    return _kind_by_length(float(np.ptp(values)), step)


def _guessed(kind: TimeKind, step: float) -> list[Notice]:
    if kind is TimeKind.SECONDS:
        return []
    message = (
        f"The time column does not say its unit; it grows by {step:.4g} a row, which is one second in {kind.value}, "
        f"so {kind.value} were assumed."
    )
    return [_note("time_unit_assumed", message, severity=Severity.WARNING)]


def _kind_by_length(span: float, step: float) -> tuple[TimeKind, list[Notice]]:
    """No unit said and rows not a second apart: seconds if that makes a ride, milliseconds if only that does."""
    plausible = tuple(
        kind for kind in _RELATIVE if 0.04 <= step * UNIT_S[kind] <= 61.0 and span * UNIT_S[kind] <= _LONGEST_RIDE_S
    )
    if not plausible:
        raise TimeUnclear(f"it grows by {step:.4g} a row, which makes no ride in any unit of time", _RELATIVE)
    if plausible == (TimeKind.MILLISECONDS,):
        message = (
            f"The time column does not say its unit; steps of {step:.4g} make a ride only in milliseconds, "
            "so these were assumed."
        )
        return TimeKind.MILLISECONDS, [_note("time_unit_assumed", message, severity=Severity.WARNING)]
    long_enough = tuple(kind for kind in plausible if span * UNIT_S[kind] >= 120.0)
    if TimeKind.SECONDS in long_enough or (TimeKind.SECONDS in plausible and not long_enough):
        message = "The time column does not say its unit; seconds were assumed."
        return TimeKind.SECONDS, [_note("time_unit_assumed", message, severity=Severity.WARNING)]
    raise TimeUnclear("it does not say its unit, and its steps fit more than one", plausible)


def _from_colons(cells: ColonCells, asked: TimeAsked) -> TimeAxis:
    kind, notices = _kind_of_colons(cells, asked)
    time_s = _colon_seconds(cells, kind)
    if kind is TimeKind.CLOCK:
        time_s, days = carry_over(time_s, DAY_S)
        if days:
            notices.append(
                _note("midnight_crossed", "The clock times pass midnight; the later ones were taken as the next day.")
            )
        first = float(time_s[np.isfinite(time_s)][0])
        time_s = time_s - first
        notices.append(
            _note(
                "clock_times_without_date",
                f"The times are clock times without a date; the first, {_hms(first)}, was taken as zero.",
            )
        )
        return _spread(time_s, False, kind, notices)
    if not np.any(np.isfinite(cells.third)):
        time_s, hours = carry_over(time_s, 3600.0)
        if hours:
            message = "The minutes start again from zero after each hour; the hours were added."
            notices.append(_note("hours_added", message))
    return _spread(time_s, False, kind, notices)


def _hms(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def _colon_seconds(cells: ColonCells, kind: TimeKind) -> FloatArray:
    """Seconds under ``kind``: three parts are h:mm:ss always, two are m:ss, or h:mm for the kinds that say so."""
    hours_and_minutes = kind in (TimeKind.CLOCK, TimeKind.ELAPSED_H_MM)
    two = (cells.first * 3600 + cells.second * 60) if hours_and_minutes else cells.first * 60 + cells.second
    first = np.where(np.isfinite(cells.half), cells.first % 12 + np.nan_to_num(cells.half), cells.first)
    three = first * 3600 + cells.second * 60 + cells.third
    if hours_and_minutes:
        two = first * 3600 + cells.second * 60
    fraction = cells.fraction * (60.0 if hours_and_minutes else 1.0)
    return np.asarray(np.where(np.isfinite(cells.third), three + cells.fraction, two + fraction))


def _kind_of_colons(cells: ColonCells, asked: TimeAsked) -> tuple[TimeKind, list[Notice]]:
    if asked.kind is not None:
        if asked.kind not in (TimeKind.CLOCK, TimeKind.ELAPSED, TimeKind.ELAPSED_H_MM):
            raise TimeUnclear(
                f"its cells are times with colons, which do not fit the kind “{asked.kind}”",
                (TimeKind.CLOCK, TimeKind.ELAPSED, TimeKind.ELAPSED_H_MM),
            )
        return asked.kind, []
    if not np.any(np.isfinite(cells.first)):
        raise TimeUnclear("none of its cells is a time")
    if np.any(np.isfinite(cells.half)):
        return TimeKind.CLOCK if float(_first(_colon_seconds(cells, TimeKind.CLOCK))) >= 60 else TimeKind.ELAPSED, []
    if asked.hint in (TimeKind.CLOCK, TimeKind.ELAPSED, TimeKind.ELAPSED_H_MM):
        return asked.hint, []
    if np.any(np.isfinite(cells.third)):
        start_s = float(_first(_colon_seconds(cells, TimeKind.ELAPSED)))
        fits_a_day = bool(np.nanmax(cells.first) <= 23)
        return (TimeKind.CLOCK if fits_a_day and start_s >= 3600 else TimeKind.ELAPSED), []
    return _kind_of_two_parts(cells)


def _first(values: FloatArray) -> float:
    finite = values[np.isfinite(values)]
    return float(finite[0]) if finite.size else float("nan")


def _kind_of_two_parts(cells: ColonCells) -> tuple[TimeKind, list[Notice]]:
    """``a:bb`` alone: minutes and seconds from near zero are elapsed; many rows to each step are hours and minutes."""
    time_s = _colon_seconds(cells, TimeKind.ELAPSED)
    finite = time_s[np.isfinite(time_s)]
    distinct = np.unique(finite)
    repeats = finite.size / distinct.size
    if np.any(cells.fraction > 0) or np.nanmax(cells.first) > 23 or (_first(time_s) < 60.0 and repeats < 8):
        return TimeKind.ELAPSED, []
    if repeats >= 8:
        kind = TimeKind.CLOCK if _first(time_s) >= 60.0 else TimeKind.ELAPSED_H_MM
        message = "Many rows share each time: the times were read as hours and minutes, not minutes and seconds."
        return kind, [_note("times_to_the_minute", message, severity=Severity.WARNING)]
    raise TimeUnclear(
        "its times can be minutes and seconds elapsed, or hours and minutes of the day",
        (TimeKind.ELAPSED, TimeKind.CLOCK),
    )


def _from_dates(cells: DateCells, asked: TimeAsked, extra_s: FloatArray | float = 0.0) -> TimeAxis:
    if asked.kind not in (None, TimeKind.DATE_TIME):
        raise TimeUnclear(f"its cells are dates, which do not fit the kind “{asked.kind}”", (TimeKind.DATE_TIME,))
    days, notices = _days(cells, asked)
    time_s = days * DAY_S + cells.clock_s + extra_s
    if not np.any(np.isfinite(time_s)):
        raise TimeUnclear("none of its cells is a date")
    some_zone = bool(np.any(cells.zoned))
    if not some_zone:
        notices += _zone_notice(asked)
        time_s = time_s - (asked.utc_offset_s or 0.0)
        time_s, hours = carry_over(time_s, 3600.0)
        if hours:
            message = "The clock went back an hour during the ride (a change from summer time); the hour was added."
            notices.append(_note("summer_time_ended", message, severity=Severity.WARNING))
    return _spread(time_s, True, TimeKind.DATE_TIME, notices)


def _zone_notice(asked: TimeAsked) -> list[Notice]:
    if asked.utc_offset_s is not None:
        return []
    message = (
        "The dates and times say no time zone; they were taken as UTC. The search for one clock covers other zones."
    )
    return [_note("time_zone_assumed", message)]


def _days(cells: DateCells, asked: TimeAsked) -> tuple[FloatArray, list[Notice]]:
    """Days since 1970-01-01 under the order asked for, the only possible one, the shorter ride, or day first."""
    by_order = {DateOrder.DAY_FIRST: cells.day_first, DateOrder.MONTH_FIRST: cells.month_first}
    if asked.date_order is not None:
        return by_order[asked.date_order], []
    readable = np.isfinite(cells.day_first) | np.isfinite(cells.month_first)
    if np.array_equal(cells.day_first, cells.month_first, equal_nan=True):
        return cells.day_first, []
    possible = [order for order, days in by_order.items() if np.array_equal(np.isfinite(days), readable)]
    if len(possible) == 1:
        return by_order[possible[0]], []
    spans = {order: float(np.nanmax(days) - np.nanmin(days)) for order, days in by_order.items()}
    shorter = min(spans, key=lambda order: spans[order])
    if len(set(spans.values())) == 2 and spans[shorter] <= 2:
        return by_order[shorter], []
    order = DateOrder.DAY_FIRST if cells.points or not cells.half_days else DateOrder.MONTH_FIRST
    if cells.points:
        return by_order[order], []
    example = from_timestamp(float(_first(by_order[order])) * DAY_S)[:10]
    message = (
        f"The dates do not show whether the day or the month comes first; {order.value.replace('_', ' ')} was assumed "
        f"({example}). A saved mapping can say otherwise."
    )
    return by_order[order], [_note("date_order_assumed", message, severity=Severity.WARNING)]


def _from_date_and_clock(dates: Sequence[str], clocks: Sequence[str], asked: TimeAsked, decimal: str) -> TimeAxis:
    parsed = parse_dates(dates)
    colons = parse_colons(clocks)
    seconds = _colon_seconds(colons, TimeKind.CLOCK)
    if (asked.kind is None and asked.hint is TimeKind.ELAPSED) or (asked.kind is None and _first(seconds) < 60.0):
        axis = _from_colons(colons, asked)
        message = "The time column counts from the start of the ride, so the date beside it was not used."
        return TimeAxis(
            time_s=axis.time_s, dated=False, kind=axis.kind, notices=(*axis.notices, _note("date_not_used", message))
        )
    seconds = np.where(np.isfinite(parsed.day_first) | np.isfinite(parsed.month_first), seconds, np.nan)
    if not np.any(np.isfinite(seconds)):
        return read_times([clocks], asked, decimal, len(clocks))
    constant = np.unique(parsed.day_first[np.isfinite(parsed.day_first)]).size <= 1
    notices: tuple[Notice, ...] = ()
    if constant:
        seconds, days = carry_over(seconds, DAY_S)
        if days:
            text = "The clock times pass midnight while the date stays; the later ones were taken as the next day."
            notices = (_note("midnight_crossed", text),)
    axis = _from_dates(parsed, asked, seconds - parsed.clock_s * 0)
    return TimeAxis(time_s=axis.time_s, dated=True, kind=axis.kind, notices=axis.notices + notices)


def _spread(time_s: FloatArray, dated: bool, kind: TimeKind, notices: list[Notice]) -> TimeAxis:
    again = restarts(time_s)
    if again >= 2 and not dated:
        raise TimeUnclear(f"it starts again {again} times, as a counter within laps or minutes does")
    spread_s, tick_s, moved = spread_within_ticks(time_s)
    if moved:
        message = (
            f"Several rows share each time, which is written only to {tick_s:g} s; they were spread evenly within it."
        )
        severity = Severity.WARNING if tick_s > 1.5 else Severity.NOTE
        notices = [*notices, _note("times_spread", message, moved, severity)]
    return TimeAxis(time_s=spread_s, dated=dated, kind=kind, notices=tuple(notices))
