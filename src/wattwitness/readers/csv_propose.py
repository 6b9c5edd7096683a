"""A mapping proposed for a table: what would be used, what is unclear, as a text for the tester to check and edit."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_columns import Heading, shown
from wattwitness.readers.csv_dialect import Decimal, Delimiter
from wattwitness.readers.csv_mapping import DELIMITER_WORDS
from wattwitness.readers.csv_plan import columns_listed
from wattwitness.readers.csv_read import TableRead, choose_from, read_table
from wattwitness.readers.csv_time_kinds import TimeKind, TimeUnclear
from wattwitness.readers.csv_times import read_times
from wattwitness.readers.csv_units import unit_of
from wattwitness.readers.reader import OpenedFile


@dataclass(frozen=True, slots=True, kw_only=True)
class MappingProposal:
    """How a table would be read. ``headings`` are all its columns.

    ``time`` is empty where no column can be the time; ``time_kind`` is None where it can be several, then listed in
    ``time_kinds``. ``power_candidates`` are the columns among which the power cannot be told; then it is not in
    ``channels``.
    """

    file_name: str
    encoding: str
    delimiter: Delimiter
    decimal: Decimal
    header_line: int
    headings: tuple[Heading, ...]
    time: tuple[Heading, ...]
    time_kind: TimeKind | None
    time_kinds: tuple[TimeKind, ...]
    channels: Mapping[ChannelName, Heading]
    power_candidates: tuple[Heading, ...]


def propose_mapping(opened: OpenedFile) -> MappingProposal:
    """Propose a mapping for a table. Raises CorruptFile or FileTooLarge."""
    table = read_table(opened.content, opened.file_name, None)
    plan = table.plan
    choice = choose_from(table)
    kind, kinds = _time_kind(table)
    time = () if plan.time is None else tuple(plan.layout.headings[column] for column in plan.time.columns)
    return MappingProposal(
        file_name=opened.file_name,
        encoding=plan.encoding,
        delimiter=plan.delimiter,
        decimal=plan.decimal,
        header_line=plan.layout.header_line,
        headings=plan.layout.headings,
        time=time,
        time_kind=kind,
        time_kinds=kinds,
        channels=choice.channels,
        power_candidates=choice.unclear,
    )


def proposed_mapping_text(opened: OpenedFile) -> str:
    """The proposed mapping as the text of a file."""
    return mapping_to_toml(propose_mapping(opened))


def _time_kind(table: TableRead) -> tuple[TimeKind | None, tuple[TimeKind, ...]]:
    plan = table.plan
    if plan.time is None:
        return None, (TimeKind.ROW_NUMBER,)
    try:
        return read_times(table.body.times, plan.time.asked, plan.decimal, table.body.rows).kind, ()
    except TimeUnclear as unclear:
        return None, unclear.kinds or tuple(TimeKind)


def mapping_to_toml(proposal: MappingProposal) -> str:
    """Write a proposal as TOML. What is unclear stands in it as comments, one line for each choice."""
    names = {sign: word for word, sign in DELIMITER_WORDS.items()}
    lines = [
        f"# How to read {shown(proposal.file_name)}. Check every line, correct it, and give this file with --mapping.",
        f"# The columns are: {columns_listed(proposal.headings)}.",
        "# A column may be given by its heading or by its number.",
        "",
        "[table]",
        f'delimiter = "{names[proposal.delimiter]}"',
        f'decimal = "{proposal.decimal}"',
        f"header_line = {proposal.header_line}",
    ]
    if proposal.encoding not in ("utf-8", "utf-8-sig"):
        lines.append(f'encoding = "{proposal.encoding}"')
    lines += ["", "[time]", *_time_lines(proposal), "", "[columns]", *_column_lines(proposal), ""]
    units = _unit_lines(proposal)
    return "\n".join([*lines, *(["[units]", *units, ""] if units else [])])


def _time_lines(proposal: MappingProposal) -> list[str]:
    if proposal.time_kind is not None:
        return [f'kind = "{proposal.time_kind}"']
    if proposal.time:
        choices = [f'# kind = "{kind}"' for kind in proposal.time_kinds if kind is not TimeKind.ROW_NUMBER]
        return ["# The times can be read in several ways: keep one line and take off its “#”.", *choices]
    return [
        "# No column can be read as time. If the rows are evenly spaced, take off both “#” and say how far apart.",
        f'# kind = "{TimeKind.ROW_NUMBER}"',
        "# step_s = 1.0",
    ]


def _column_lines(proposal: MappingProposal) -> list[str]:
    lines = []
    if proposal.time:
        refs = [_ref(heading, proposal) for heading in proposal.time]
        lines.append(f"time = {refs[0] if len(refs) == 1 else '[' + ', '.join(refs) + ']'}")
    if proposal.power_candidates:
        lines.append("# The power could be any of these: keep one line and take off its “#”.")
        refs = [_ref(heading, proposal) for heading in proposal.power_candidates]
        lines += [f"# power_w = {ref}" for ref in refs]
        if {heading.side for heading in proposal.power_candidates} == {"left", "right"}:
            lines.append(f"# power_w = [{', '.join(refs)}]  # both added up")
    elif ChannelName.POWER not in proposal.channels:
        lines.append(f"# power_w = {_ref(proposal.headings[-1], proposal)}  # no column was found for the power")
    lines += [f"{channel} = {_ref(heading, proposal)}" for channel, heading in proposal.channels.items()]
    return lines


def _unit_lines(proposal: MappingProposal) -> list[str]:
    return [
        f"{channel} = {_quoted(heading.unit)}"
        for channel, heading in proposal.channels.items()
        if heading.unit and unit_of(channel, heading.unit)
    ]


def _ref(heading: Heading, proposal: MappingProposal) -> str:
    """A column by its heading where that is unmistakable, else by its number."""
    same = [other for other in proposal.headings if other.text.strip().casefold() == heading.text.strip().casefold()]
    return _quoted(heading.text.strip()) if heading.text.strip() and len(same) == 1 else str(heading.position)


def _quoted(text: str) -> str:
    """A TOML basic string: its escapes are those of JSON, and DEL must be escaped as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
