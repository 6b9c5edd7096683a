"""The tables as the program writes to them are the tables that the migrations make."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import FILE_NAME, HEAD, catalogue, new_bench
from wattwitness.bench.tables import METADATA


def _described(connection: sa.Connection) -> dict[str, dict[str, tuple[str, bool]]]:
    inspector = sa.inspect(connection)
    return {
        name: {
            column["name"]: (str(column["type"]), bool(column["nullable"])) for column in inspector.get_columns(name)
        }
        for name in inspector.get_table_names()
        if name != "alembic_version"
    }


def _keys(connection: sa.Connection) -> dict[str, set[tuple[str, str]]]:
    inspector = sa.inspect(connection)
    return {
        name: {(key["constrained_columns"][0], key["referred_table"]) for key in inspector.get_foreign_keys(name)}
        for name in METADATA.tables
    }


def test_the_steps_make_the_tables_that_are_written_to(tmp_path: Path) -> None:
    new_bench(tmp_path / "bench")
    with catalogue(tmp_path / "bench") as connection:
        made, keys = _described(connection), _keys(connection)
    engine = sa.create_engine("sqlite://")
    with engine.begin() as connection:
        METADATA.create_all(connection)
        assert made == _described(connection)
        assert keys == _keys(connection)


def test_a_bench_of_the_first_step_is_brought_up_to_date_and_keeps_what_it_holds(tmp_path: Path) -> None:
    from alembic import command
    from alembic.config import Config

    import wattwitness.bench.catalogue as room

    bench = tmp_path / "bench"
    bench.mkdir()
    engine = sa.create_engine(f"sqlite:///{bench / FILE_NAME}")
    with engine.begin() as connection:
        config = Config()
        config.set_main_option("script_location", str(Path(room.__file__).parent / "migrations"))
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.exec_driver_sql("INSERT INTO units (id, name) VALUES (7, 'bike A')")
    engine.dispose()
    with catalogue(bench) as connection:
        assert connection.exec_driver_sql("SELECT id, name, meter_id FROM units").all() == [(7, "bike A", None)]
    with sqlite3.connect(bench / FILE_NAME) as plain:
        assert plain.execute("SELECT version_num FROM alembic_version").fetchall() == [(HEAD,)]
