"""What each file of a batch holds: read once, remembered beside it, told for each file while the others go on."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness import __version__
from wattwitness.bench.json_form import from_text, to_text
from wattwitness.model.errors import ColumnsUnclear, MappingInvalid, NoSamples, WattwitnessError
from wattwitness.model.inspection import Inspection, RecordingInspection
from wattwitness.readers.csv_columns import Heading
from wattwitness.readers.csv_plan import plan_table
from wattwitness.readers.open import TABLE, open_file
from wattwitness.workflows.incoming import FOLDER, RIDES, Arrival, home_of, not_writable, path_of_arrival
from wattwitness.workflows.inspect import inspect_file
from wattwitness.workflows.saved_words import put_text

MAPPINGS = "mappings"
BY_COLUMNS = frozenset(error.slug for error in (ColumnsUnclear, MappingInvalid, NoSamples))
"""What is wrong with a table where its columns may be all that is to be said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """Why a file cannot be used, and what to do."""

    slug: str
    what: str
    where: str
    hint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileFacts:
    """What one file holds, or what is wrong with it.

    ``table`` says that its columns can be confirmed, ``mapping`` under which key they were (empty: not).
    """

    version: str
    recordings: tuple[RecordingInspection, ...]
    format_title: str = ""
    wrong: Wrong | None = None
    table: bool = False
    mapping: str = ""

    @property
    def columns_in_doubt(self) -> bool:
        """Whether the tester's word on its columns may be all that is missing."""
        return self.table and self.wrong is not None and self.wrong.slug in BY_COLUMNS


def facts_known(bench: Path, batch: str, arrival: Arrival) -> FileFacts | None:
    """What was read of a file before; ``None`` where it is to be read, or its columns were confirmed since."""
    try:
        text = (home_of(bench, batch) / "read" / f"{arrival.id}.json").read_text(encoding="utf-8")
        facts = from_text(FileFacts, text, whole=True)
    except (OSError, ValueError):
        return None
    return facts if facts.version == __version__ else None


def read_facts(bench: Path, batch: str, arrival: Arrival) -> FileFacts:
    """Read a file and remember what it holds, or what is wrong with it. Raises UnknownName, OutputNotWritable."""
    known = facts_known(bench, batch, arrival)
    if known is not None:
        return known
    facts = _read(bench, path_of_arrival(bench, batch, arrival))
    folder = home_of(bench, batch) / "read"
    try:
        folder.mkdir(exist_ok=True)
        put_text(folder / f"{arrival.id}.json", to_text(facts))
    except OSError as error:
        raise not_writable(bench, error) from error
    return facts


def _read(bench: Path, path: Path) -> FileFacts:
    headings, key = table_headings(path)
    mapping = mapping_path(bench, key) if key else None
    there = mapping if mapping is not None and mapping.is_file() else None
    facts = FileFacts(version=__version__, recordings=(), table=bool(headings), mapping=key if there else "")
    try:
        inspection: Inspection = inspect_file(str(path), mapping=there)
    except WattwitnessError as error:
        return replace(facts, wrong=Wrong(slug=error.slug, what=error.what, where=error.where or "", hint=error.hint))
    except Exception as error:  # noqa: BLE001 (a fault of ours on one file must not keep the others away)
        what = f"This is a fault of wattwitness itself ({type(error).__name__})."
        hint = "The file is unchanged. Report it with the file, if you may give it away."
        return replace(facts, wrong=Wrong(slug="fault", what=what, where=path.name, hint=hint))
    return replace(facts, recordings=inspection.recordings, format_title=inspection.format_title)


def table_headings(path: Path) -> tuple[tuple[Heading, ...], str]:
    """The columns of a table, and the key that all tables with the same headings share; nothing for other files."""
    try:
        opened, reader, _ = open_file(path)
        if reader.name != TABLE:
            return (), ""
        plan = plan_table(opened.content, opened.file_name, None)
    except WattwitnessError:
        return (), ""
    headings = plan.layout.headings
    said = json.dumps([plan.delimiter, plan.decimal, [one.text.strip() for one in headings]])
    return headings, hashlib.sha256(said.encode()).hexdigest()[:24]


def mapping_path(bench: Path, key: str) -> Path:
    """Where the columns of all tables with the same headings are remembered."""
    return bench / FOLDER / MAPPINGS / f"{key}.toml"


def forget_tables(bench: Path, batch: str) -> None:
    """Have every table of a batch read again: what is known of columns has changed. Raises UnknownName."""
    (home_of(bench, batch) / RIDES).unlink(missing_ok=True)
    for path in (home_of(bench, batch) / "read").glob("*.json"):
        try:
            if from_text(FileFacts, path.read_text(encoding="utf-8"), whole=True).table:
                path.unlink(missing_ok=True)
        except (OSError, ValueError):
            continue
