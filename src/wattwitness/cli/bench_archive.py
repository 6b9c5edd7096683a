"""``wattwitness bench export`` and ``bench import``: a whole bench as one file."""

from __future__ import annotations

from pathlib import Path

import click

Place = click.Path(path_type=Path)


@click.command(name="export")
@click.argument("folder", type=Place, metavar="BENCH")
@click.argument("file", type=Place, metavar="FILE.zip")
@click.option("--replace", is_flag=True, help="Replace the file if it is there already.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
def export_bench(folder: Path, file: Path, replace: bool, quiet: bool) -> int:
    """Write all of BENCH into one file: recordings as they came, names, notes and all that is on record.

    Whoever gets the file gets everything in it, places and names included. To hand on an answer, publish it instead.

    Exit status: 0 it was written; 2 it could not be.
    """
    from wattwitness import __version__
    from wattwitness.bench.archive import write_archive
    from wattwitness.cli.progress import StatusLine

    with StatusLine(quiet=quiet) as progress:
        count = write_archive(folder, file, version=__version__, replace=replace, progress=progress)
    click.echo(f"{file}: the whole bench, {count} recordings, {file.stat().st_size / 1e6:.1f} MB.")
    return 0


@click.command(name="import")
@click.argument("file", type=Place, metavar="FILE.zip")
@click.argument("folder", type=Place, metavar="NEW_BENCH")
@click.option("--quiet", is_flag=True, help="Show no progress.")
def import_bench(file: Path, folder: Path, quiet: bool) -> int:
    """Make NEW_BENCH from a file that “bench export” wrote; every recording is held against its SHA-256.

    Exit status: 0 there is a whole bench; 2 there is none.
    """
    from wattwitness.bench.archive import read_archive
    from wattwitness.cli.progress import StatusLine

    with StatusLine(quiet=quiet) as progress:
        count = read_archive(file, folder, progress=progress)
    click.echo(f"{folder}: the bench of {file.name}, {count} recordings, each as it was kept.")
    return 0
