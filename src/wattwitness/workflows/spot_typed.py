"""Spot readings that are typed or pasted into a form: put into the text form of spot readings, checked by its reader,
and laid among the files to add.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from wattwitness.model.errors import SettingInvalid, SpotReadingInvalid, WattwitnessError
from wattwitness.model.recording import Recording
from wattwitness.readers.reader import OpenedFile
from wattwitness.readers.spot import COLUMNS, read_spot
from wattwitness.readers.spot_mark import MARK, is_spot_text
from wattwitness.readers.words import plain_text
from wattwitness.workflows.incoming import Announced, Arrival, announce, arrival_of, begin_batch
from wattwitness.workflows.incoming_parts import receive
from wattwitness.workflows.incoming_read import read_facts
from wattwitness.workflows.safe_names import safe_name
from wattwitness.workflows.typed_lines import lines_renumbered, said_of_rows, with_headings

CELLS = ("at", *COLUMNS, "note")
KEYS = ("date", "utc_offset")
HEADINGS = {"at": "time", "shows_w": "shows (W)", "shows_rpm": "shows (rpm)", "shows_bpm": "shows (beats/min)"}
"""What the form calls the columns of the text."""
MOST_BYTES = 900_000
LONGEST_CELL = 300
_TIME = re.compile(r'\s*"?[0-9]{1,3}:[0-9]{2}')


def text_of_rows(keys: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> str:
    """The text of rows that were typed; ``rows`` have their number in the form as ``row``.

    Raises SpotReadingInvalid, whose ``where`` is the field of the first mistake.
    """
    used = [name for name in COLUMNS if any(row.get(name) for row in rows)] or [next(iter(COLUMNS))]
    columns = ("at", *used, "note")
    lines, fields = [MARK], [""]
    for key in KEYS:
        if keys.get(key):
            lines.append(f"# {key}: {keys[key]}")
            fields.append(key)
    lines.append(",".join(columns))
    fields.append("")
    for row in rows:
        lines.append(",".join(_cell(row.get(name, ""), name) for name in columns))
        fields.append(row["row"])
    text = "\n".join(lines) + "\n"
    try:
        _read(text)
    except SpotReadingInvalid as error:
        numbers = [row["row"] for row in rows]
        what, where = said_of_rows(error.what, fields, numbers, columns=CELLS, otherwise="at", called=HEADINGS)
        raise SpotReadingInvalid(what, where=where, hint="Correct what is named.") from error
    return text


def _cell(text: str, name: str) -> str:
    """One cell, so that it stays one, and its row a row: a comma of a number is a point, and one of a note may stay."""
    plain = plain_text(text, LONGEST_CELL).replace('"', "'").replace("#", "'" if name == "at" else "#")
    return plain if name == "note" else plain.replace("\u2212", "-").replace(",", ".")


def text_of_paste(keys: Mapping[str, str], pasted: str) -> str:
    """The text of readings that were pasted: as it is where it has headings, or else with those of ``CELLS`` in order.

    Raises SpotReadingInvalid, SettingInvalid.
    """
    if len(pasted.encode()) > MOST_BYTES:
        raise SettingInvalid("This is far too much for spot readings.", where="pasted", hint="Add it as a file.")
    numbered = [
        (place, line)
        for place, line in enumerate(re.split(r"\r\n|\r|\n", pasted.replace("\0", "")), start=1)
        if line.strip()
    ]
    lines, numbers = [line for _, line in numbered], [place for place, _ in numbered]
    head = "".join(f"# {key}: {keys[key]}\n" for key in KEYS if keys.get(key))
    ahead, called = [0] * (1 + len(head.splitlines())), {}
    if is_spot_text(pasted):
        marked = bool(lines) and lines[0].lstrip().lstrip('"').startswith("#")
        text = "\n".join([lines[0], *head.splitlines(), *lines[1:]] if marked else [MARK, *head.splitlines(), *lines])
        numbers = [numbers[0], *ahead[1:], *numbers[1:]] if marked else [*ahead, *numbers]
    elif lines and _TIME.match(lines[0]):
        delimiter = next((one for one in "\t;," if one in lines[0]), ",")
        most = max(line.count(delimiter) for line in lines) + 1
        headings = CELLS[: min(most, len(CELLS))]
        text = f"{MARK}\n{head}{delimiter.join(headings)}\n" + "\n".join(lines)
        numbers, called = [*ahead, 0, *numbers], HEADINGS
    else:
        raise SpotReadingInvalid(
            "What was pasted begins neither with a time nor with headings.",
            where="pasted",
            hint="Paste lines such as “0:30, 148, 82”: the time, watts, and cadence if there is one.",
        )
    try:
        _read(text)
    except WattwitnessError as error:
        what = with_headings(lines_renumbered(error.what, numbers), called)
        raise type(error)(what, where="pasted", hint=error.hint) from error
    return text + "\n"


def put_spot(bench: Path, text: str, name: str, *, batch: str = "") -> tuple[str, Arrival]:
    """Lay the text among the files to add, in a batch that waits or in a new one; gives its id, and the file.

    Raises UnknownName, OutputNotWritable.
    """
    content = text.encode("utf-8")
    called = safe_name(f"{name.strip()[:80] or 'display'}.csv")
    batch = batch or begin_batch(bench)
    answer = announce(bench, batch, [Announced(name=called, size_bytes=len(content))])[0]
    if isinstance(answer, WattwitnessError):
        raise answer
    receiving = receive(bench, batch, answer.id)
    try:
        receiving.take(content)
        receiving.end()
    except BaseException:
        receiving.give_up()
        raise
    arrival = arrival_of(bench, batch, answer.id)
    if arrival.place:
        read_facts(bench, batch, arrival)
    return batch, arrival


def _read(text: str) -> tuple[Recording, ...]:
    content = text.encode("utf-8")
    return read_spot(OpenedFile(file_name="form", sha256="", size_bytes=len(content), content=content))
