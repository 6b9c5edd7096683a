"""What is on record on a bench beside its rides: meters, questions, notes and every change, which can be undone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wattwitness.cli.numbers import Between
from wattwitness.cli.question_options import asked_of, question_options

Place = click.Path(path_type=Path)
UNIT = click.option(
    "--unit", default="", metavar="NAME", help="A unit, by its name on the bench. Default: the only one."
)


@click.command()
@click.argument("folder", type=Place, metavar="BENCH")
@click.argument("meter", metavar="METER")
@click.argument("file", type=Place, required=False, metavar="[FILE.toml]")
@click.option(
    "--since", default="", metavar="DAY", help="From which day on, as 2026-01-31. Default: from the first ride."
)
@click.option("--firmware", default="", metavar="TEXT", help="The firmware it had from then on.")
@click.option("--is-unit", default="", metavar="NAME", help="This meter is the unit of that name.")
@click.option("--wrote-references", is_flag=True, help="This meter wrote the reference of every ride.")
def describe(
    folder: Path, meter: str, file: Path | None, since: str, firmware: str, is_unit: str, wrote_references: bool
) -> int:
    """Write down how METER is set up from a day on: its firmware, or a whole description in FILE.toml.

    A ride gets the setup that was in force on its day, unless it has a description of its own.

    Exit status: 0 it is on record; 2 it could not be read or kept.
    """
    from wattwitness.workflows import bench_changes as changes
    from wattwitness.workflows.bench_studies import unit_id_on

    changes.describe_meter(folder, meter, since_day=since, firmware=firmware, described=file)
    if is_unit:
        changes.unit_is_meter(folder, unit_id_on(folder, is_unit), meter)
    if wrote_references:
        changes.references_are_meter(folder, meter)
    click.echo(f"The setup of {meter} is on record.")
    return 0


@click.command()
@click.argument("folder", type=Place, metavar="BENCH")
@UNIT
@click.option(
    "--limit-pct", type=Between(0, 100), metavar="NUMBER", help="A limit on the bias of your own, in percent."
)
@question_options
def ask(folder: Path, unit: str, limit_pct: float | None, **options: Any) -> int:
    """Keep what is asked of a unit, so that “bench study” need not be told again; options given there still win.

    Exit status: 0 it is on record; 2 usage.
    """
    from dataclasses import replace

    from wattwitness.workflows.bench_changes import ask_of_unit
    from wattwitness.workflows.bench_studies import kept_question, unit_id_on
    from wattwitness.workflows.study import stated_limit

    unit_id = unit_id_on(folder, unit)
    asked = asked_of(options)
    if limit_pct is not None:
        asked["claim"] = stated_limit(limit_pct)
    changed = ask_of_unit(folder, unit_id, replace(kept_question(folder, unit_id), **asked))
    click.echo("What is asked is on record." if changed else "That was asked already; nothing was changed.")
    return 0


@click.command()
@click.argument("folder", type=Place, metavar="BENCH")
def record(folder: Path) -> int:
    """List every change that was made on BENCH, the last first.

    Exit status: 0 it was listed; 2 the bench cannot be read.
    """
    from wattwitness.workflows.bench_record import record_of

    changes = record_of(folder)
    for change in changes:
        click.echo(f"{change.made_at}  {'(undone) ' if change.undone else ''}{change.what}")
    if not changes:
        click.echo("Nothing has been changed by hand.")
    return 0


@click.command()
@click.argument("folder", type=Place, metavar="BENCH")
def undo(folder: Path) -> int:
    """Take the last change back that was made on BENCH; once more takes back the one before.

    Exit status: 0 it was taken back, or there was none; 2 it cannot be.
    """
    from wattwitness.workflows.bench_record import undo as take_back

    said = take_back(folder)
    click.echo(f"Taken back: {said}" if said else "There is nothing to take back.")
    return 0
