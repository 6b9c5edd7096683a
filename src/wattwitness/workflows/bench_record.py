"""The record of a bench: every change made in one step, listed, and taken back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.changes import Change, NotTheLast, Record, changes_of, let_stand, state_of, undo_last
from wattwitness.model.errors import BenchInvalid, WattwitnessError


def record_of(bench: Path) -> list[Change]:
    """Every change on record, the last first."""
    with catalogue(bench) as connection:
        return changes_of(connection)


def state_of_bench(bench: Path) -> str:
    """A text that is another one whenever something on the bench has changed; empty where it cannot be read."""
    try:
        with catalogue(bench) as connection:
            return state_of(connection)
    except WattwitnessError:
        return ""


def last_of(record: Sequence[Change]) -> int | None:
    """The number of the last change that stands and can be taken back; ``None`` where there is none."""
    return next((change.id for change in record if not (change.undone or change.stuck)), None)


def undo(bench: Path, expected: int | None = None) -> str:
    """Take the last change back and return its sentence; empty where there is none.

    ``expected`` is the number of the change that was last when the tester looked. One that cannot be taken back any
    more stands for good from then on. Raises BenchInvalid.
    """
    try:
        with catalogue(bench, write=True) as connection:
            try:
                return undo_last(connection, expected)
            except IntegrityError as error:
                raise ValueError("something on the bench stands on it now") from error
    except NotTheLast as error:
        raise BenchInvalid(
            f"The change cannot be taken back: {error}.",
            where="the record",
            hint="Nothing was altered. Look at the record to see what was changed last.",
        ) from error
    except (ValueError, TypeError, KeyError) as error:
        with catalogue(bench, write=True) as connection:
            let_stand(connection)
        raise BenchInvalid(
            f"The change cannot be taken back: {error}.",
            where="the record",
            hint="It stands; change it by hand if need be. Those before it can still be taken back.",
        ) from error


@contextmanager
def changing(bench: Path) -> Iterator[tuple[sa.Connection, Record]]:
    """One change in one step: the catalogue to change, and the record it is written to."""
    with catalogue(bench, write=True) as connection:
        yield connection, Record(connection)
