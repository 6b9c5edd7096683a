"""``wattwitness evidence``: what speaks for or against a unit, as a bundle to hand on."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wattwitness.cli.recording_choices import recording_choices
from wattwitness.cli.setting_options import setting_options, settings_from

if TYPE_CHECKING:
    from wattwitness.model.private_data import PrivateFile, PrivateItem
    from wattwitness.workflows.evidence import EvidenceWritten

Output = click.Path(path_type=Path)
MOST_SHOWN = 4


@click.command()
@click.argument("recordings", nargs=-1, required=True, metavar="REFERENCE UNIT [OTHER]...")
@click.option("--out", type=Output, required=True, metavar="FILE.zip", help="Where to write the bundle.")
@click.option(
    "--with-originals",
    is_flag=True,
    help="Put the files in as they were recorded. What private data they hold is shown first, and asked about.",
)
@click.option("--yes", is_flag=True, help="Do not ask before the original files go in; for scripts.")
@click.option(
    "--name",
    "names",
    multiple=True,
    metavar="NAME",
    help="What to call each recording in the bundle, in the order of the files. Default: the reference, the unit.",
)
@click.option(
    "--mapping",
    "mappings",
    multiple=True,
    metavar="FILE|none",
    help="A saved column mapping for tables. Repeat it, in the order of the files, where they need different ones.",
)
@click.option(
    "--reference-meter", type=Output, metavar="FILE", help="A file that describes the reference: setup, budget."
)
@click.option(
    "--unit-meter",
    "unit_meters",
    multiple=True,
    metavar="FILE|none",
    help="A file that describes a unit. Repeat it, in the order of the files.",
)
@click.option("--replace", is_flag=True, help="Replace the bundle if it is there already.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
@setting_options
def evidence(
    recordings: tuple[str, ...],
    out: Path,
    with_originals: bool,
    yes: bool,
    names: tuple[str, ...],
    mappings: tuple[str, ...],
    reference_meter: Path | None,
    unit_meters: tuple[str, ...],
    replace: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Compare recordings of one ride, and write what the maker of a unit needs to see: a statement, every episode with
    its figure and samples, the report, and copies of the recordings from which all of it can be computed again.

    Positions, serial numbers and names stay out. A name given with --name goes in.

    Exit status: as for compare; 3 where nothing could be concluded, though the bundle that says so is written.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.evidence import write_evidence
    from wattwitness.workflows.meters import read_meters
    from wattwitness.workflows.outcome import outcome_of

    settings = settings_from(options)
    choices = recording_choices(recordings, names, mappings)
    descriptions = [None if path == "none" else Path(path) for path in unit_meters]
    with StatusLine(quiet=quiet) as progress:

        def confirm(files: Sequence[PrivateFile]) -> None:
            progress.clear()
            _confirm(files, yes=yes)

        written = write_evidence(
            choices,
            settings,
            out,
            meters_of=lambda compared: read_meters(reference_meter, descriptions, compared=compared),
            confirm_originals=confirm if with_originals else None,
            replace=replace,
            progress=progress,
        )
    _say(written)
    return outcome_of(written.comparison).value


def _confirm(files: Sequence[PrivateFile], *, yes: bool) -> None:
    """Show what the originals hold, on standard error, and ask. Raises Abort where the answer is no."""
    for file in files:
        click.echo(f"{_shown(file.file_name)} holds:", err=True)
        for item in _by_kind(file.items):
            values = ", ".join(_shown(text) for text in item.examples[:MOST_SHOWN])
            more = f", and {len(item.examples) - MOST_SHOWN} more" if len(item.examples) > MOST_SHOWN else ""
            said = f": {values}{more}" if values else ""
            often = "once" if item.count == 1 else f"{item.count} times"
            where = f"{_shown(item.where)}, " if item.where else ""
            click.echo(f"  {item.kind} ({where}{often}{said})", err=True)
        if not file.items:
            click.echo("  nothing private that was found", err=True)
    click.echo(
        "The list may not be complete: what a maker's own fields mean is not always known. The original files go into "
        "the bundle with all of this.",
        err=True,
    )
    if not yes:
        click.confirm("Put them in?", abort=True, err=True)


def _by_kind(items: Sequence[PrivateItem]) -> list[PrivateItem]:
    """Findings to show: of those that stand all over a file only how many there are, the others one by one."""
    from wattwitness.model.private_data import PrivateItem, PrivateKind

    counted = (PrivateKind.POSITION, PrivateKind.HEART, PrivateKind.TIME)
    sums = {kind: sum(item.count for item in items if item.kind is kind) for kind in counted}
    whole = [PrivateItem(kind=kind, where="", count=count) for kind, count in sums.items() if count]
    return [*whole, *(item for item in items if item.kind not in counted)]


def _shown(text: str) -> str:
    from wattwitness.words.names import clean

    return clean(text)


def _say(written: EvidenceWritten) -> None:
    for unit in written.bundle.units:
        total = sum(count for _, count in unit.episodes)
        counts = ", ".join(f"{count} {finding}" for finding, count in unit.episodes if count)
        found = f"{total} episode{'' if total == 1 else 's'} ({counts})" if counts else "no episodes"
        stated = "a defect is stated" if unit.defect else "no defect is stated"
        click.echo(f"{unit.label}: {found}; {stated} in {unit.statement}")
    if written.bundle.with_originals:
        click.echo("The original files are inside, with the private data they hold.")
    else:
        click.echo("Positions, serial numbers and names are left out; times of day and heart rate are inside.")
    click.echo(f"The evidence is {written.path}")
