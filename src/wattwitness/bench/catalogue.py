"""The catalogue of a bench: one SQLite file, brought up to date when it is opened, changed in whole steps only."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError, OperationalError

from wattwitness.model.errors import (
    BenchBusy,
    BenchInvalid,
    BenchNewer,
    FileMissing,
    OutputExists,
    OutputNotWritable,
    WattwitnessError,
)

FILE_NAME = "catalogue.sqlite"
HEAD = "0003"
"""The newest step under ``migrations/versions``; a test holds the two together."""

BEGUN = {FILE_NAME, f"{FILE_NAME}-journal"}
"""All that there can be in the folder of a bench whose making was cut short."""

BUSY_S = 30.0


def new_bench(folder: Path) -> None:
    """Make an empty bench. Raises OutputExists, OutputNotWritable."""
    if folder.exists() and (not folder.is_dir() or {one.name for one in folder.iterdir()} - BEGUN):
        raise OutputExists(
            "There is something in it already.", where=str(folder), hint="Name a folder that is empty, or a new one."
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputNotWritable(
            f"The bench cannot be made: {error.strerror}.", where=str(folder), hint="Name a place you may write to."
        ) from error
    with _transaction(folder) as connection:
        # A bench whose making was cut short has a file with nothing in it, and is made now.
        if connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar():
            raise OutputExists(
                "There is a bench in it already.", where=str(folder), hint="Use it, or name another folder."
            )
        _migrate(connection)


@contextmanager
def catalogue(bench: Path, *, write: bool = False) -> Iterator[sa.Connection]:
    """The catalogue for one whole step: all of it is kept at the end, or nothing where an error is raised.

    Raises FileMissing (no bench), BenchNewer, BenchInvalid, BenchBusy, OutputNotWritable.
    """
    if not (bench / FILE_NAME).is_file():
        raise FileMissing(
            "There is no bench in that folder.", where=str(bench), hint="Make one with “wattwitness bench new”."
        )
    if not write and _is_older(bench):
        with catalogue(bench, write=True):
            pass  # brought up to date; an older program left it
    with _transaction(bench, write=write) as connection:
        version = _version(connection, bench)
        if version > HEAD:
            raise BenchNewer(
                f"The bench was written by a newer version of this program (catalogue {version}, known to {HEAD}).",
                where=str(bench),
                hint="Use the newer version; nothing was changed.",
            )
        if version < HEAD and write:
            _migrate(connection)
        yield connection


def _is_older(bench: Path) -> bool:
    with _transaction(bench, write=False) as connection:
        return _version(connection, bench) < HEAD


@contextmanager
def _transaction(bench: Path, *, write: bool = True) -> Iterator[sa.Connection]:
    # Never “ro”: what a killed process left half done is taken back by whoever opens the catalogue next. And no address
    # of the library's: it would take a “%” or a “?” in a folder's name for its own.
    uri = f"file:{quote(str(bench.resolve() / FILE_NAME))}?mode={'rwc' if write else 'rw'}"
    engine = sa.create_engine(
        "sqlite://", creator=lambda: sqlite3.connect(uri, uri=True, timeout=BUSY_S), poolclass=sa.NullPool
    )
    # The driver would begin a step only at its first change; a step here begins where it is opened, and at once.
    sa.event.listen(engine, "connect", _by_hand)
    sa.event.listen(engine, "begin", lambda one: one.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN"))
    try:
        with engine.begin() as connection:
            yield connection
    except DatabaseError as error:
        raise _told(error, bench) from error
    finally:
        engine.dispose()


def _by_hand(connection: Any, _record: Any) -> None:
    connection.isolation_level = None
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = FULL")


def _version(connection: sa.Connection, bench: Path) -> str:
    try:
        found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars().all()
    except OperationalError as error:
        if "no such table" not in str(error):
            raise
        found = []
    if len(found) != 1:
        raise BenchInvalid(
            "The catalogue does not say its version.",
            where=str(bench / FILE_NAME),
            hint="Put the bench back from a copy.",
        )
    return str(found[0])


def _migrate(connection: sa.Connection) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _told(error: DatabaseError, bench: Path) -> WattwitnessError:
    says = str(error.orig)
    if "locked" in says or "busy" in says:
        return BenchBusy(
            "Another program is changing the bench.", where=str(bench), hint="Wait until it is done, then try again."
        )
    if any(word in says for word in ("readonly", "full", "unable to open", "disk I/O")):
        return OutputNotWritable(
            f"The bench cannot be written ({says}). What it held before is as it was.",
            where=str(bench),
            hint="Check that the disk is not full and that you may write there, then give the same command again.",
        )
    return BenchInvalid(
        f"The catalogue cannot be used ({says}).", where=str(bench / FILE_NAME), hint="Put the bench back from a copy."
    )
