"""``wattwitness bench``: keep rides safely, and judge them again when something changed."""

from __future__ import annotations

from dataclasses import replace as with_changes
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wattwitness.cli.bench_archive import export_bench, import_bench
from wattwitness.cli.bench_record import ask, describe, record, undo
from wattwitness.cli.setting_options import setting_options, settings_from
from wattwitness.cli.study import study_options

if TYPE_CHECKING:
    from wattwitness.model.ride_list import ListedRide
    from wattwitness.workflows.matching import Match

Folder = click.Path(path_type=Path)


@click.group()
def bench() -> None:
    """Keep recordings byte for byte in one folder, and judge units by them; only what changed is computed again."""


for command in (describe, ask, record, undo, export_bench, import_bench):
    bench.add_command(command)


@bench.command()
@click.argument("folder", type=Folder)
def new(folder: Path) -> int:
    """Make an empty bench in FOLDER.

    Exit status: 0 it was made; 2 it could not be.
    """
    from wattwitness.bench.catalogue import new_bench

    new_bench(folder)
    click.echo(f"An empty bench stands in {folder}. Add rides with: wattwitness bench add {folder} FOLDER")
    return 0


@bench.command()
@click.argument("folder", type=Folder, metavar="BENCH")
@click.argument("rides", type=Folder, nargs=-1, required=True, metavar="FOLDER|LIST|FILES")
@click.option("--reference", default="", metavar="TEXT", help="A part of the reference's file or meter names.")
@click.option("--unit", default="", metavar="TEXT", help="A part of the unit's file or meter names.")
@click.option("--name", default="", metavar="NAME", help="What the unit is called on the bench.")
@click.option("--confirm", is_flag=True, help="Take the rides as proposed, without asking.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
def add(folder: Path, rides: tuple[Path, ...], reference: str, unit: str, name: str, confirm: bool, quiet: bool) -> int:
    """Keep the rides of a folder or of files as proposed, or of a TOML list as written, in BENCH.

    A proposed ride whose two recordings do not hold one effort is named and not kept; a list is kept as it is written.

    Exit status: 0 the rides are kept, or you said no; 2 usage or unreadable input.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.bench import add_rides, taken_together
    from wattwitness.workflows.matching import as_matched, match_rides, units_of
    from wattwitness.workflows.study import listed_study

    with taken_together(rides) as place:
        listed, unused = listed_study(place, reference=reference, unit=unit, several=True)
        proposed = place.is_dir()
        called = name or listed.unit or unit or (rides[0] if len(rides) == 1 else rides[0].parent).resolve().stem
        with StatusLine(quiet=quiet) as progress:
            matches = match_rides(listed.rides, progress=progress)
        for ride, match in zip(listed.rides, matches, strict=True):
            click.echo(_proposed(ride, match, kept=match.to_be_kept(proposed=proposed)))
        sure = tuple(
            as_matched(ride, match)
            for ride, match in zip(listed.rides, matches, strict=True)
            if match.to_be_kept(proposed=proposed)
        )
        for path, why in unused:
            click.echo(f"not used: {Path(path).name} ({why})")
        units = units_of(sure, called, named=bool(name or listed.unit or unit))
        asked = f"Keep these rides ({len(sure)}) of {' and '.join(f'“{one}”' for one in units)}?"
        if not confirm and not click.confirm(asked):
            click.echo("Nothing was kept.")
            return 0
        for one, rides_of_it in units.items():
            with StatusLine(quiet=quiet) as progress:
                added = add_rides(folder, with_changes(listed, rides=rides_of_it), one, progress=progress)
            click.echo(f"New on the bench, of “{one}”: {added.new}. There already: {added.known}.")
            if added.elsewhere:
                others = ", ".join(f"“{other}”" for other in added.elsewhere)
                click.echo(f"Mind: the same recordings are on the bench as rides of {others} too.")
    return 0


@bench.command()
@click.argument("folder", type=Folder, metavar="BENCH")
@click.option("--check", is_flag=True, help="Read every original and hold it against its SHA-256.")
def show(folder: Path, check: bool) -> int:
    """Say what is on BENCH.

    Exit status: 0 all is in order; 2 the bench cannot be read, or an original is missing or altered.
    """
    from wattwitness.workflows.bench import bench_holds

    holds = bench_holds(folder, check=check)
    click.echo(f"{holds.originals} originals, {holds.size_bytes / 1e6:.1f} MB")
    for unit in dict.fromkeys(ride.unit for ride in holds.rides):
        mine = [ride for ride in holds.rides if ride.unit == unit]
        click.echo(f"{unit}: {len(mine)} {'ride' if len(mine) == 1 else 'rides'}")
        for ride in mine:
            click.echo(
                f"  {ride.noted.name}: " + " against ".join(ride.files[k].file_name for k in ("unit", "reference"))
            )
    if not holds.rides:
        click.echo(f"No rides yet. Add some with: wattwitness bench add {folder} FOLDER")
    for says in holds.wrong:
        click.echo(f"wrong: {says}")
    if check and not holds.wrong:
        click.echo("Every original is as it was kept.")
    return 2 if holds.wrong else 0


@bench.command()
@click.argument("folder", type=Folder, metavar="BENCH")
@click.option(
    "--unit", default="", metavar="NAME", help="The unit to judge, by its name on the bench. Default: the only one."
)
@study_options
@setting_options
def study(
    folder: Path,
    unit: str,
    output_format: str,
    html_path: Path | None,
    with_names: bool,
    processes: int | None,
    replace: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Judge one unit over its rides on BENCH; rides that have not changed are not compared again.

    Exit status: 0 an answer was given; 1 a claim is not met; 2 usage or unreadable input; 3 no ride counts.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.cli.question_options import asked_of
    from wattwitness.cli.study import print_found
    from wattwitness.model.ride_list import ListedStudy
    from wattwitness.workflows.bench_studies import bench_study
    from wattwitness.workflows.publish_study import check_bench_page, publish_study
    from wattwitness.workflows.study_outcome import outcome_of_study

    asked = asked_of(options)
    settings = settings_from(options)
    check_bench_page(html_path, folder, replace=replace)
    listed = with_changes(ListedStudy(rides=(), unit=unit), **asked)
    with StatusLine(quiet=quiet) as progress:
        found = bench_study(folder, listed, settings, progress=progress, processes=processes)
        publish_study(found, (), html_path=html_path, with_names=with_names, replace=replace)
    print_found(found, (), output_format)
    return outcome_of_study(found).value


def _proposed(ride: ListedRide, match: Match, *, kept: bool) -> str:
    reference, unit = (
        f"{Path(file).name} ({meter})" if meter else Path(file).name
        for file, meter in zip((ride.reference, ride.unit), match.wrote, strict=True)
    )
    lead = "" if kept else "not kept: "
    return f"{lead}{ride.name}: {unit} against the reference {reference}. {match.says}"
