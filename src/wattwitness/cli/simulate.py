"""``wattwitness simulate``: rides with a known truth, as real files."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("scenario", required=False)
@click.option("--folder", type=click.Path(path_type=Path), default=Path("simulated"), help="Where to write the files.")
@click.option("--seed", type=click.IntRange(min=0), default=1, help="The same seed gives the same bytes. Default: 1.")
@click.option(
    "--as",
    "formats",
    multiple=True,
    metavar="FORMAT",
    help="File format; repeat it for several. Default: fit.",
)
@click.option("--replace", is_flag=True, help="Replace files that are there already.")
def simulate(scenario: str | None, folder: Path, seed: int, formats: tuple[str, ...], replace: bool) -> int:
    """Write the recordings of an invented ride whose truth is known; without SCENARIO, list them."""
    from wattwitness.simulate.scenarios import SCENARIOS

    if scenario is None:
        for item in SCENARIOS:
            click.echo(f"{item.name}: {item.summary}")
        return 0
    from wattwitness.workflows.simulate import simulate_scenario

    for path in simulate_scenario(scenario, seed=seed, folder=folder, formats=formats or ("fit",), replace=replace):
        click.echo(str(path))
    return 0
