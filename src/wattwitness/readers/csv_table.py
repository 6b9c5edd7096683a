"""Text tables: any delimiter, any usual form of time, headings in several languages, or a saved mapping of columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.errors import ColumnsUnclear, NoSamples
from wattwitness.model.recording import ChannelName, Notice, Recording, Severity
from wattwitness.readers.build import RawRows, build_recording
from wattwitness.readers.csv_body import sample_mask
from wattwitness.readers.csv_choose import ChannelChoice
from wattwitness.readers.csv_columns import Heading
from wattwitness.readers.csv_mapping import ColumnMapping, load_mapping
from wattwitness.readers.csv_notices import body_notices, cell_notices, cut_notices, text_notices, time_notices
from wattwitness.readers.csv_plan import Plan, columns_listed
from wattwitness.readers.csv_propose import proposed_mapping_text
from wattwitness.readers.csv_read import TableRead, choose_from, read_table
from wattwitness.readers.csv_sniff import sniff_table
from wattwitness.readers.csv_time_kinds import TimeAxis, TimeUnclear
from wattwitness.readers.csv_times import read_times
from wattwitness.readers.csv_values import UnitUnclear, in_our_unit
from wattwitness.readers.reader import OpenedFile, Reader
from wattwitness.readers.words import listed

FORMAT_NAME = "csv"


def read_csv(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read the one recording of a table.

    Raises ColumnsUnclear where a column could mean several things that matter, MappingInvalid where the saved mapping
    does not fit, CorruptFile, NoSamples or FileTooLarge.
    """
    mapping = load_mapping(opened.mapping) if opened.mapping else None
    table = read_table(opened.content, opened.file_name, mapping)
    time, samples, left_out = _sample_times(table)
    choice = _mapped_choice(table.plan) if mapping else choose_from(table)
    if choice.unclear:
        raise _power_unclear(table, choice.unclear)
    channels, said = _channels(table, choice, samples, mapping or ColumnMapping())
    no_time = int(np.count_nonzero(~np.isfinite(time.time_s)))
    notices = [
        *text_notices(table.plan.encoding, table.damage),
        *cut_notices(table.body, table.damage),
        *body_notices(table.body, samples, no_time, left_out),
        *_time_notices(table.plan),
        *time.notices,
        *choice.notices,
        *said,
    ]
    if not channels:
        raise NoSamples(
            "No column of the table holds power, cadence, heart rate or any other channel that is used here.",
            where=opened.file_name,
            hint=f"Its columns are: {columns_listed(table.plan.layout.headings)}. {_HOW_TO_MAP}",
        )
    rows = RawRows(time_s=time.time_s[samples], dated=time.dated, channels=channels)
    return (build_recording(rows, source=opened.source(FORMAT_NAME), notices=notices),)


def _mapped_choice(plan: Plan) -> ChannelChoice:
    headings = plan.layout.headings
    channels = {channel: headings[columns[0]] for channel, columns in plan.assigned.items()}
    notices = (
        [] if ChannelName.POWER in channels else [_no_power_mapped(plan, [item.position for item in channels.values()])]
    )
    return ChannelChoice(channels=channels, notices=tuple(notices))


def _no_power_mapped(plan: Plan, mapped: Sequence[int]) -> Notice:
    """A mapping that leaves the power out, as one that was saved and not edited does where the power was unclear."""
    times = plan.time.columns if plan.time else ()
    headings = plan.layout.headings
    left = [item for item in headings if item.position not in mapped and item.position - 1 not in times]
    powers = [item for item in left if item.channel is ChannelName.POWER] or left
    rest = f" Not used: {listed([item.label for item in powers], 8)}." if powers else ""
    message = (
        f"The mapping names no column for the power, so nothing can be said of watts.{rest} If one of the file's "
        "columns is the power, set power_w in [columns] of the mapping."
    )
    return Notice(slug="mapping_without_power", message=message, severity=Severity.WARNING)


def _sample_times(table: TableRead) -> tuple[TimeAxis, BoolArray, int]:
    """The times of all rows, which rows are samples, and how many others have a time. Raises ColumnsUnclear."""
    plan, body = table.plan, table.body
    _refuse_wide_rows(table)
    if plan.time is None:
        more = " For a table without times set kind = “row_number” and step_s in [time]."
        raise _unclear(table, "The table has no column that can be read as time.", more)
    try:
        time = read_times(body.times, plan.time.asked, plan.decimal, body.rows)
        samples, left_out = sample_mask(time.time_s, body)
        samples[body.rows - 1 :] &= not (table.damage.ends_open and body.rows - 1 in body.short)
        if left_out and plan.time.columns:
            kept = [[cell if keep else "" for cell, keep in zip(cells, samples, strict=True)] for cells in body.times]
            time = read_times(kept, plan.time.asked, plan.decimal, body.rows)
    except TimeUnclear as error:
        which = listed([plan.layout.headings[column].label for column in plan.time.columns])
        kinds = f" Kinds to choose from: {', '.join(error.kinds)}." if error.kinds else ""
        raise _unclear(table, f"The time column {which} is unclear: {error.what}.", kinds) from error
    return time, samples & np.isfinite(time.time_s), left_out


def _refuse_wide_rows(table: TableRead) -> None:
    """Rows wider than the headings: these may not stand over their columns, unless a mapping says what they are."""
    layout = table.plan.layout
    if table.body.too_wide > table.body.rows or (layout.unheaded and not table.plan.assigned):
        more = " Where the decimal sign is a comma, another sign must part the cells."
        raise _unclear(table, f"The rows have more cells than the {len(layout.cells)} headings.", more)


_HOW_TO_MAP = (
    "Save a mapping with “wattwitness inspect FILE --save-mapping MAPPING”, edit it, and give it with --mapping."
)


def _unclear(table: TableRead, what: str, more: str = "") -> ColumnsUnclear:
    columns = columns_listed(table.plan.layout.headings)
    return ColumnsUnclear(what, where=table.name, hint=f"The columns are: {columns}.{more} {_HOW_TO_MAP}")


def _power_unclear(table: TableRead, candidates: tuple[Heading, ...]) -> ColumnsUnclear:
    labels = listed([heading.label for heading in candidates], 8)
    names = "[" + ", ".join(f'"{heading.text.strip()}"' for heading in candidates) + "]"
    if any(heading.aside for heading in candidates):
        if len(candidates) == 1:
            return _unclear(table, f"Only {labels} could be the power, and it is {candidates[0].aside}.")
        more = f" To add up both legs set power_w = {names} in [columns]."
        return _unclear(table, f"There is no column of the whole power, only of each leg: {labels}.", more)
    return _unclear(table, f"{len(candidates)} columns could be the power: {labels}.")


def _time_notices(plan: Plan) -> list[Notice]:
    if plan.time is None:
        return []
    return time_notices(plan.time.others, [plan.layout.headings[column] for column in plan.time.columns])


def _channels(
    table: TableRead, choice: ChannelChoice, samples: BoolArray, mapping: ColumnMapping
) -> tuple[Mapping[ChannelName, FloatArray], list[Notice]]:
    """The chosen columns in our units, at the samples only. Raises ColumnsUnclear."""
    channels: dict[ChannelName, FloatArray] = {}
    notices: list[Notice] = []
    for channel, heading in choice.channels.items():
        total: FloatArray | None = None
        columns = table.plan.assigned.get(channel, (heading.position - 1,))
        for column in columns:
            values, said = _one_column(table, channel, column, samples, mapping.units.get(channel, ""))
            notices += said
            total = values if total is None else total + values
        if total is not None:
            channels[channel] = total
        if len(columns) > 1:
            labels = listed([table.plan.layout.headings[column].label for column in columns])
            message = f"The power is the sum of {labels}, as the saved mapping says."
            notices.append(Notice(slug="power_summed", message=message, severity=Severity.NOTE))
    return channels, notices


def _one_column(
    table: TableRead, channel: ChannelName, column: int, samples: BoolArray, unit: str
) -> tuple[FloatArray, list[Notice]]:
    heading = table.plan.layout.headings[column]
    values, unreadable, example = table.body.column(column)
    notices = cell_notices([(heading, int(np.count_nonzero(unreadable & samples)), example)])
    try:
        converted, said = in_our_unit(channel, values[samples], unit or _unit_text(table.plan, heading))
    except UnitUnclear as error:
        hint = f' Set {channel} = "W" or "kW" in [units] of a mapping.'
        raise _unclear(table, f"The unit of {heading.label} is unclear: {error}", hint) from error
    if channel is ChannelName.LEFT_SHARE and heading.channel is channel and heading.side == "right":
        message = f"{heading.label} was turned from the right leg's share into the left one's."
        said = (*said, Notice(slug="share_mirrored", message=message, severity=Severity.NOTE))
        converted = 100.0 - converted
    return converted, [*notices, *said]


def _unit_text(plan: Plan, heading: Heading) -> str:
    return heading.unit or plan.cell_units.get(heading.position - 1, "")


READER = Reader(
    name=FORMAT_NAME,
    title="CSV table",
    suffixes=(".csv", ".txt", ".tsv", ".tab", ".dat", ".asc"),
    sniff=sniff_table,
    read=read_csv,
    propose_mapping=proposed_mapping_text,
)
