"""``wattwitness publish``: everything that is handed on, in one folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace as with_changes
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from wattwitness.cli.question_options import asked_of, processes_option, question_options
from wattwitness.cli.recording_choices import recording_choices
from wattwitness.cli.setting_options import (
    alone_setting_options,
    alone_settings_from,
    setting_options,
    settings_from,
)

if TYPE_CHECKING:
    from wattwitness.workflows.publish_all import PublishOptions

F = TypeVar("F", bound=Callable[..., Any])
Place = click.Path(path_type=Path)
GROUNDS = ("white", "dark", "over-light", "over-dark")
COMMON = ("notes", "grounds", "with_names", "replace")

_OPTIONS = (
    click.option("--out", type=Place, required=True, metavar="FOLDER", help="The folder to write: a new one, or ours."),
    click.option("--notes", type=Place, metavar="FILE", help="Your own words as plain text: shown apart, as yours."),
    click.option(
        "--ground",
        "grounds",
        type=click.Choice(GROUNDS),
        multiple=True,
        help="What figures are drawn on; over-light and over-dark are transparent. May be repeated. Default: white.",
    ),
    click.option("--with-names", is_flag=True, help="Leave names of riders, meters and files in."),
    click.option("--replace", is_flag=True, help="Replace an earlier publication in the folder."),
    click.option("--quiet", is_flag=True, help="Show no progress."),
)


def _publishing(command: F) -> F:
    """Give ``command`` what every publication may be asked."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


@click.group()
def publish() -> None:
    """Write all that is handed on into one folder: a page, a PDF, figures for film and article, tables, results.

    Positions and serial numbers stay out, and so do names of riders and files unless --with-names is given.
    """


@publish.command()
@click.argument("recordings", nargs=-1, required=True, metavar="REFERENCE UNIT [OTHER]...")
@click.option(
    "--name", "names", multiple=True, metavar="NAME", help="What to call each recording, in the order of the files."
)
@click.option(
    "--mapping",
    "mappings",
    multiple=True,
    metavar="FILE|none",
    help="A saved column mapping for tables. Repeat it, in the order of the files, where they need different ones.",
)
@click.option(
    "--reference-meter", type=Place, metavar="FILE", help="A file that describes the reference: setup, budget."
)
@click.option(
    "--unit-meter",
    "unit_meters",
    multiple=True,
    metavar="FILE|none",
    help="A file that describes a unit. Repeat it, in the order of the files.",
)
@click.option("--with-evidence", is_flag=True, help="Add the archive and the statement for the maker of each unit.")
@_publishing
@setting_options
def ride(
    recordings: tuple[str, ...],
    out: Path,
    names: tuple[str, ...],
    mappings: tuple[str, ...],
    reference_meter: Path | None,
    unit_meters: tuple[str, ...],
    with_evidence: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Compare recordings of one ride and publish what was found.

    Exit status: as for compare.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.meters import read_meters
    from wattwitness.workflows.outcome import outcome_of
    from wattwitness.workflows.publish_all import publish_comparison

    chosen = with_changes(_chosen(options), with_evidence=with_evidence)
    settings, told = settings_from(options), list[str]()
    descriptions = [None if path == "none" else Path(path) for path in unit_meters]
    with StatusLine(quiet=quiet) as progress:
        comparison, written = publish_comparison(
            recording_choices(recordings, names, mappings),
            settings,
            out,
            chosen,
            meters_of=lambda compared: read_meters(reference_meter, descriptions, compared=compared),
            progress=progress,
            tell=told.append,
        )
    _say(out, written, chosen, told)
    return outcome_of(comparison).value


@publish.command()
@click.argument("recording", metavar="FILE")
@click.option("--name", default="", metavar="NAME", help="What to call the recording.")
@click.option("--mapping", type=Place, metavar="FILE", help="A saved column mapping, for a table that needs one.")
@_publishing
@alone_setting_options
def recording(recording: str, out: Path, name: str, mapping: Path | None, quiet: bool, **options: Any) -> int:
    """Look at one recording with no second meter and publish what it shows of itself.

    Exit status: as for alone.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.compare import RecordingChoice
    from wattwitness.workflows.publish_all import publish_alone

    chosen = _chosen(options)
    settings, told = alone_settings_from(options), list[str]()
    with StatusLine(quiet=quiet) as progress:
        choice = RecordingChoice(argument=recording, label=name, mapping=mapping)
        report, written = publish_alone(choice, settings, out, chosen, progress=progress, tell=told.append)
    _say(out, written, chosen, told)
    return 0 if report.mean_w is not None else 3


@publish.command()
@click.argument("rides", type=Place, metavar="FOLDER|LIST")
@click.option("--reference", default="", metavar="TEXT", help="A part of the reference's file or meter names.")
@click.option("--unit", default="", metavar="TEXT", help="A part of the unit's file or meter names.")
@question_options
@processes_option
@_publishing
@setting_options
def study(rides: Path, out: Path, reference: str, unit: str, processes: int | None, quiet: bool, **options: Any) -> int:
    """Judge a unit over the rides of a folder or of a TOML list and publish what was found.

    Exit status: as for study.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.publish_all import check_publication, publish_found
    from wattwitness.workflows.study import listed_study, run_study
    from wattwitness.workflows.study_outcome import outcome_of_study

    chosen = _chosen(options)
    asked = asked_of(options)
    settings, told = settings_from(options), list[str]()
    check_publication(out, chosen, recordings=rides)
    listed, unused = listed_study(rides, reference=reference, unit=unit)
    with StatusLine(quiet=quiet) as progress:
        found = run_study(with_changes(listed, **asked), settings, progress=progress, processes=processes)
        written = publish_found(found, out, chosen, unused=unused, progress=progress, tell=told.append)
    _say(out, written, chosen, told)
    return outcome_of_study(found).value


@publish.command()
@click.argument("folder", type=Place, metavar="BENCH")
@click.option(
    "--unit",
    "units",
    multiple=True,
    metavar="NAME",
    help="The unit, by its name on the bench; several stand side by side. Default: the only one.",
)
@question_options
@processes_option
@_publishing
@setting_options
def bench(folder: Path, out: Path, units: tuple[str, ...], processes: int | None, quiet: bool, **options: Any) -> int:
    """Judge a unit over its rides on a bench, or several side by side, and publish what was found.

    Exit status: as for bench study; of several units the worst.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.model.ride_list import ListedStudy
    from wattwitness.workflows.bench_studies import bench_study
    from wattwitness.workflows.publish_all import check_publication, publish_found
    from wattwitness.workflows.study_outcome import worst_of_studies

    chosen = _chosen(options)
    asked = asked_of(options)
    settings, told = settings_from(options), list[str]()
    check_publication(out, chosen, recordings=folder)
    with StatusLine(quiet=quiet) as progress:
        found = tuple(
            bench_study(
                folder,
                with_changes(ListedStudy(rides=(), unit=unit), **asked),
                settings,
                progress=progress,
                processes=processes,
            )
            for unit in dict.fromkeys(units or ("",))
        )
        whole = found[0] if len(found) == 1 else found
        written = publish_found(whole, out, chosen, progress=progress, tell=told.append)
    _say(out, written, chosen, told)
    return worst_of_studies(found).value


def _chosen(options: dict[str, Any]) -> PublishOptions:
    """What every publication may be asked, taken out of ``options``. Raises what reading the notes raises."""
    from wattwitness.render.inks import Ground
    from wattwitness.workflows.publish_all import PublishOptions, read_notes

    notes, grounds, with_names, replace = (options.pop(name) for name in COMMON)
    return PublishOptions(
        notes="" if notes is None else read_notes(notes),
        grounds=tuple(dict.fromkeys(Ground(name.replace("-", "_")) for name in grounds)) or (Ground.WHITE,),
        with_names=with_names,
        replace=replace,
    )


def _say(out: Path, written: Sequence[Path], chosen: PublishOptions, told: Sequence[str]) -> None:
    page = out / "report.html"
    click.echo(f"{len(written)} files stand in {out}. Begin with {page}; README.txt says what each is.")
    if chosen.with_names:
        click.echo("Names of riders, meters and files are inside, because that was asked for.")
    else:
        click.echo("Positions, serial numbers, and names of riders and files are left out.")
    for sentence in told:
        click.echo(sentence)
