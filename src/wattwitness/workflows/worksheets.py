"""Worksheets of hanging weights as they are typed into a form, and those that a bench keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.lone_recordings import put_away_of
from wattwitness.bench.originals import Original
from wattwitness.bench.tables import PUT_AWAY
from wattwitness.model.errors import SettingInvalid, WorksheetInvalid
from wattwitness.model.hanging_weights import LoadStep, Side, WeighingReport, Worksheet
from wattwitness.readers.words import plain_text
from wattwitness.readers.worksheet import LIMIT_BYTES, MARK, NUMBER_KEYS, load_worksheet, parse_worksheet
from wattwitness.workflows.bench_record import changing
from wattwitness.workflows.kept_texts import keep_text, original_called, texts_beginning
from wattwitness.workflows.typed_lines import said_of_rows
from wattwitness.workflows.weigh import weigh_worksheets
from wattwitness.writers.worksheet import blank_worksheet_text, worksheet_text

KEYS = ("meter", "date", *NUMBER_KEYS)
CELLS = ("side", "position", "repeat", "step", "mass_kg", "lever_mm", "angle_deg", "reading_nm")
SAME = ("side", "position", "repeat", "step", "lever_mm", "angle_deg")
"""What stands in a row before anything was read."""
ENDINGS = (".csv", ".txt", ".tsv")
MOST_TOGETHER = 60
LONGEST_CELL = 100


def typed_worksheet(keys: Mapping[str, str], rows: Sequence[Mapping[str, str]]) -> Worksheet:
    """The worksheet of a form, checked by the reader of worksheets. ``rows`` have their number in the form as ``row``.

    Raises WorksheetInvalid, whose ``where`` is the field of the first mistake.
    """
    lines, fields = [MARK], [""]
    for key in KEYS:
        said = plain_text(keys.get(key, ""), LONGEST_CELL)
        lines.append(f"# {key}: {_number(said) if key in NUMBER_KEYS else said}")
        fields.append(key)
    lines.append(",".join(CELLS))
    fields.append("")
    for row in rows:
        lines.append(",".join(_cell(row.get(name, ""), name) for name in CELLS))
        fields.append(row["row"])
    try:
        return replace(parse_worksheet("\n".join(lines), "form"), source="typed in")
    except WorksheetInvalid as error:
        numbers = [row["row"] for row in rows]
        what, where = said_of_rows(error.what, fields, numbers, columns=CELLS, otherwise="mass_kg")
        raise WorksheetInvalid(what, where=where, hint="Correct what is named.") from error


def _cell(text: str, name: str) -> str:
    """One cell, so that it stays one, and its row a row: commas of numbers are points, those of words go."""
    plain = plain_text(text, LONGEST_CELL).replace('"', "'").replace("#", "'")
    return plain.replace(",", ";") if name in ("side", "position", "repeat", "step") else _number(plain)


def _number(text: str) -> str:
    return text.replace("\u2212", "-").replace(",", ".")


def keep_worksheet(bench: Path, worksheet: Worksheet) -> Original:
    """Keep a worksheet on the bench in the form that the reader reads. Raises OutputNotWritable."""
    name = " ".join(part for part in ("hanging weights", worksheet.meter[:60], worksheet.date) if part)
    return _listed_again(bench, keep_text(bench, worksheet_text(worksheet), f"{name}.csv"))


def keep_worksheet_text(bench: Path, text: str, name: str) -> Original:
    """Keep the text of a worksheet as it is, once it was read. Raises WorksheetInvalid, OutputNotWritable."""
    try:
        parse_worksheet(text, name or "worksheet")
    except WorksheetInvalid as error:
        hint = "Correct what is named, or begin with the empty worksheet that this page offers."
        raise WorksheetInvalid(error.what, where="text", hint=hint) from error
    kept = keep_text(bench, text, name if name.lower().endswith(ENDINGS) else f"{name or 'worksheet'}.csv")
    return _listed_again(bench, kept)


def kept_worksheets(bench: Path) -> list[tuple[Original, Worksheet]]:
    """Every worksheet on the bench that can be read and was not put away, by meter and date."""
    found = []
    with catalogue(bench) as connection:
        away = put_away_of(connection)
    for original in texts_beginning(bench, MARK, endings=ENDINGS, most_bytes=LIMIT_BYTES):
        if original.sha256 in away:
            continue
        try:
            found.append((original, kept_worksheet(bench, original.sha256)))
        except WorksheetInvalid:
            continue  # never kept by this page: it came among recordings, and was told of there
    return sorted(found, key=lambda one: (one[1].meter, one[1].date, one[0].file_name))


def put_worksheet_away(bench: Path, sha256: str) -> None:
    """Have a worksheet listed no more; its bytes stay. Raises UnknownName, WorksheetInvalid."""
    worksheet = kept_worksheet(bench, sha256)
    with changing(bench) as (connection, record):
        if sha256 not in put_away_of(connection):
            record.add(PUT_AWAY, file_sha256=sha256)
        record.done(f"The worksheet of {worksheet.meter or 'a meter'}, “{worksheet.source}”, was put away.")


def _listed_again(bench: Path, original: Original) -> Original:
    """What is kept once more is listed again."""
    with changing(bench) as (connection, record):
        again = connection.execute(sa.select(PUT_AWAY.c.id).where(PUT_AWAY.c.file_sha256 == original.sha256)).scalar()
        if again is not None:
            record.remove(PUT_AWAY, again)
        record.done(f"The worksheet “{original.file_name}” is listed again.")
    return original


def kept_worksheet(bench: Path, sha256: str) -> Worksheet:
    """One worksheet on the bench. Raises UnknownName, WorksheetInvalid."""
    original, path = original_called(bench, sha256)
    return replace(load_worksheet(path), source=original.file_name)


def weigh_kept(bench: Path, sha256s: Sequence[str]) -> WeighingReport:
    """Evaluate worksheets on the bench together. Raises UnknownName, SettingInvalid, WorksheetInvalid."""
    if not 1 <= len(sha256s) <= MOST_TOGETHER:
        raise SettingInvalid(
            f"Choose at least one worksheet, and at most {MOST_TOGETHER}.", where="worksheets", hint="Mark some."
        )
    return weigh_worksheets([kept_worksheet(bench, one) for one in sha256s])


def blank_text() -> str:
    """An empty worksheet, to be filled in beside the bike."""
    return blank_worksheet_text()


def form_of(worksheet: Worksheet) -> tuple[dict[str, str], list[dict[str, str]]]:
    """What a form shows of a worksheet: its keys, and its rows."""
    keys = {key: _shown(getattr(worksheet, key)) for key in KEYS}
    rows = [
        {
            **{name: _shown(getattr(reading, name)) for name in CELLS},
            **(dict.fromkeys(("mass_kg", "lever_mm"), "") if reading.mass_kg == 0 else {}),
        }
        for reading in worksheet.readings
    ]
    return keys, rows


def first_rows() -> list[dict[str, str]]:
    """The rows that an empty form begins with: one series on each side."""
    steps = (LoadStep.ZERO_BEFORE, *[LoadStep.UP] * 3, *[LoadStep.DOWN] * 2, LoadStep.ZERO_AFTER)
    blank = dict.fromkeys(CELLS, "")
    return [
        {**blank, "side": side.value, "position": "forward", "repeat": "1", "step": step.value, "angle_deg": "0"}
        for side in (Side.LEFT, Side.RIGHT)
        for step in steps
    ]


def _shown(value: object) -> str:
    if value is None:
        return ""
    return f"{value:.12g}" if isinstance(value, float) else str(value)
