"""``wattwitness demo``: the main job on an invented ride, from files to a page."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from shlex import quote

import click


@click.command()
@click.option("--folder", type=click.Path(path_type=Path), default=Path("demo"), help="Where to write. Default: demo.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
def demo(folder: Path, quiet: bool) -> int:
    """Ride four invented studio bikes against pedals: one ride compared in full, then each bike over many rides,
    kept on a bench.

    Files of an earlier demo in the same folder are replaced; its bench stays. The last lines name the reports, the
    bench, and how to open it.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.render.terminal import print_comparison, standard_console
    from wattwitness.workflows.demo import run_demo, run_demo_bikes

    with StatusLine(quiet=quiet) as progress:
        comparison, report = run_demo(folder, progress=progress)
        bikes = run_demo_bikes(folder, progress=progress)
    print_comparison(comparison, standard_console())
    click.echo(f"One ride in full:       {report}")
    click.echo(f"Four bikes, many rides: {bikes.page}")
    click.echo(f"Their bench:            {bikes.bench}")
    click.echo(f"Open it in a browser:   {as_called()} serve {quote(str(bikes.bench))}")
    return 0


def as_called() -> str:
    """How to call the program again: by its name where the shell knows it, else the way it was called just now."""
    called = sys.argv[0]
    known = shutil.which("wattwitness") is not None or Path(called).name != "wattwitness"
    return "wattwitness" if known else quote(called)
