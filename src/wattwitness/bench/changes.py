"""Every change that the tester makes stands on record with what takes it back, and can be undone in reverse order.

What takes a change back is kept as JSON: a list of rows, each with its table, its id, what was done to it and the
values it had before (``None`` where it was added). Only the tables below can be named, so that a doctored catalogue can
undo nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from wattwitness.bench.tables import (
    CHANGES,
    CLAIMS,
    LONE_RECORDINGS,
    METERS,
    NOTES,
    PUT_AWAY,
    RECORDINGS,
    RIDES,
    SETUPS,
    STRETCHES,
    STUDIES,
    UNITS,
)
from wattwitness.model.errors import UnknownName

CHANGED = {
    table.name: table
    for table in (UNITS, RIDES, STRETCHES, STUDIES, CLAIMS, NOTES, METERS, SETUPS, LONE_RECORDINGS, PUT_AWAY)
}


MOST_ROWS = 1 << 63
"""A catalogue has no larger whole numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change on record: when, what in a sentence, and whether it was undone, or cannot be any more (``stuck``)."""

    id: int
    made_at: str
    what: str
    undone: bool
    stuck: bool = False


class Record:
    """Writes rows and remembers what they were; ``done`` puts the whole change on record under one sentence."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._back: list[dict[str, Any]] = []

    def add(self, table: sa.Table, **values: Any) -> int:
        """Write a new row and return its id."""
        row_id = next_id(self._connection, table)
        self._connection.execute(table.insert().values(id=row_id, **values))
        self._back.append({"table": table.name, "id": row_id, "was": "added", "values": None})
        return row_id

    def change(self, table: sa.Table, row_id: int, **values: Any) -> bool:
        """Give a row other values; ``False`` where it had them already. Raises UnknownName where it is not there."""
        before = _row(self._connection, table, row_id)
        if before is None:
            raise _gone(table, row_id)
        if all(before[name] == value for name, value in values.items()):
            return False
        self._connection.execute(table.update().where(table.c.id == row_id).values(**values))
        self._back.append({"table": table.name, "id": row_id, "was": "changed", "values": before})
        return True

    def remove(self, table: sa.Table, row_id: int) -> None:
        """Take a row off. Raises UnknownName where it is not there."""
        before = _row(self._connection, table, row_id)
        if before is None:
            raise _gone(table, row_id)
        self._connection.execute(table.delete().where(table.c.id == row_id))
        self._back.append({"table": table.name, "id": row_id, "was": "removed", "values": before})

    def done(self, what: str) -> None:
        """Put the change on record; nothing where nothing was changed."""
        if self._back:
            back = json.dumps(self._back[::-1], ensure_ascii=False, allow_nan=False)
            self._connection.execute(CHANGES.insert().values(made_at=now_utc(), what=what, back=back))


def next_id(connection: sa.Connection, table: sa.Table) -> int:
    """A number that no row of ``table`` has or had: a page that still shows what was taken off must not mean another.

    Whatever was taken off stands in the record, which is never shortened.
    """
    highest = connection.execute(sa.select(sa.func.max(table.c.id))).scalar() or 0
    for back in connection.execute(
        sa.select(CHANGES.c.back).where(CHANGES.c.back.contains(f'"{table.name}"'))
    ).scalars():
        try:
            steps = checked_back(back)
        except (ValueError, TypeError, KeyError):
            continue  # never written by this program, and never taken back by it
        highest = max([highest, *(step["id"] for step in steps if step["table"] == table.name)])
    return int(highest) + 1


class NotTheLast(ValueError):
    """Another change is the last one by now; says which."""


STUCK = ""
"""Stands in place of when a change was taken back where that cannot be done any more."""


def undo_last(connection: sa.Connection, expected: int | None = None) -> str:
    """Take the last change back that is not undone, and return its sentence (empty: there is none).

    ``expected`` is the number of the change that is meant (``None``: whichever is the last). Raises NotTheLast where
    that is another one, ValueError where it cannot be taken back or the record is not one that this program wrote, and
    what the catalogue does where two rows would claim the same name.
    """
    asked = sa.select(CHANGES).where(CHANGES.c.undone_at.is_(None)).order_by(CHANGES.c.id.desc())
    last = connection.execute(asked).mappings().first()
    if last is None and expected is None:
        return ""
    if last is None:
        raise NotTheLast("it was taken back before")
    if expected is not None and last["id"] != expected:
        already = last["id"] < expected
        raise NotTheLast("it was taken back before" if already else f"another came after it, “{last['what']}”")
    for step in checked_back(last["back"]):
        _take_back(connection, step)
    connection.execute(CHANGES.update().where(CHANGES.c.id == last["id"]).values(undone_at=now_utc()))
    return str(last["what"])


def let_stand(connection: sa.Connection) -> None:
    """Have the last change that is not undone stand for good, so that those before it can be taken back."""
    asked = sa.select(CHANGES.c.id).where(CHANGES.c.undone_at.is_(None)).order_by(CHANGES.c.id.desc())
    last = connection.execute(asked).scalar()
    if last is not None:
        connection.execute(CHANGES.update().where(CHANGES.c.id == last).values(undone_at=STUCK))


def changes_of(connection: sa.Connection) -> list[Change]:
    """Every change, the last first."""
    rows = connection.execute(sa.select(CHANGES).order_by(CHANGES.c.id.desc())).mappings()
    return [
        Change(
            id=row["id"],
            made_at=row["made_at"],
            what=row["what"],
            undone=bool(row["undone_at"]),
            stuck=row["undone_at"] == STUCK,
        )
        for row in rows
    ]


def state_of(connection: sa.Connection) -> str:
    """A text that is another one whenever something on the bench was added, changed, taken off or taken back."""
    asked = (
        sa.select(sa.func.max(CHANGES.c.id)),
        sa.select(sa.func.count(CHANGES.c.undone_at)),
        sa.select(sa.func.max(RIDES.c.id)),
        sa.select(sa.func.count(RIDES.c.id)),
        sa.select(sa.func.count(RECORDINGS.c.sha256)),
    )
    return ".".join(str(connection.execute(one).scalar() or 0) for one in asked)


def now_utc() -> str:
    """This moment as the catalogue writes it."""
    return datetime.now(tz=UTC).isoformat(timespec="seconds")


def checked_back(text: str) -> list[dict[str, Any]]:
    """What takes a change back, from its text. Raises ValueError for what this program would not have written."""
    steps = json.loads(text)
    if not isinstance(steps, list):
        raise ValueError("this is no record of a change")
    for step in steps:
        if not isinstance(step, Mapping) or set(step) != {"table", "id", "was", "values"}:
            raise ValueError("this is no record of a change")
        table = CHANGED.get(step["table"])
        columns = set() if table is None else set(table.c.keys())
        # A row that an older catalogue wrote has no cell in the columns that came later.
        later = set() if table is None else {column.name for column in table.c if column.nullable}
        values = step["values"]
        if not columns or type(step["id"]) is not int or step["was"] not in ("added", "changed", "removed"):
            raise ValueError("this is no record of a change")
        if step["was"] == "added":
            if values is not None:
                raise ValueError("this is no record of a change")
        elif not isinstance(values, Mapping) or set(values) | later != columns or values.get("id") != step["id"]:
            raise ValueError("this is no record of a change")
    return steps


def _take_back(connection: sa.Connection, step: Mapping[str, Any]) -> None:
    table, row_id, was, values = CHANGED[step["table"]], step["id"], step["was"], step["values"]
    there = _row(connection, table, row_id) is not None
    if was == "added":
        connection.execute(table.delete().where(table.c.id == row_id))
    elif was == "changed" and there:
        connection.execute(table.update().where(table.c.id == row_id).values(**values))
    elif was == "removed" and not there:
        connection.execute(table.insert().values(**values))
    else:
        raise ValueError("something else has taken its place")


def _row(connection: sa.Connection, table: sa.Table, row_id: int) -> dict[str, Any] | None:
    if not 0 <= row_id < MOST_ROWS:
        return None
    row = connection.execute(sa.select(table).where(table.c.id == row_id)).mappings().first()
    return None if row is None else dict(row)


def _gone(table: sa.Table, row_id: int) -> UnknownName:
    kind = table.name.removesuffix("s")
    return UnknownName(
        f"There is no {kind} {row_id} on the bench.",
        where="the bench",
        hint="It may have been taken off in another window: load the page again.",
    )
