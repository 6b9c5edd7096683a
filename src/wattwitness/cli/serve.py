"""``wattwitness serve``: the bench in a browser."""

from __future__ import annotations

from pathlib import Path

import click

USUAL_PORT = 8127


@click.command()
@click.argument("folder", type=click.Path(path_type=Path), metavar="BENCH")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=USUAL_PORT,
    show_default=True,
    help="Where on this machine; 0: any that is free.",
)
@click.option("--new", is_flag=True, help="Make the bench first, if there is none.")
@click.option("--open", "open_it", is_flag=True, help="Open it in this machine’s browser.")
def serve(folder: Path, port: int, new: bool, open_it: bool) -> int:
    """Open BENCH in a browser, from this machine and for this machine only; end it with Ctrl+C.

    Exit status: 0 it was ended; 2 the bench cannot be used, or the port cannot be had.
    """
    from wattwitness.bench.catalogue import FILE_NAME, catalogue, new_bench
    from wattwitness.web.serving import serve as serve_bench

    if new and not (folder / FILE_NAME).is_file():
        new_bench(folder)
    with catalogue(folder):
        pass  # a bench that cannot be used is told before anything is served

    def ready(address: str) -> None:
        click.echo(f"The bench is open at {address}\nOnly this machine can reach it. End with Ctrl+C.")
        if open_it:
            click.launch(address)

    serve_bench(folder, port=port, ready=ready)
    return 0
