"""Everything a tester hands on, in one folder: page, PDF, figures, tables, results, and a list of what each is.

Private data stay out unless they are asked for: positions and serial numbers always, names of riders and files by
default.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.model.alone import AloneReport
from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import FileMissing, FileNotReadable, FileTooLarge, OutputExists
from wattwitness.model.publication import Publication
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.model.study import Study
from wattwitness.render.inks import Ground
from wattwitness.sections.tester_notes import with_notes
from wattwitness.workflows.anonymous_study import without_names
from wattwitness.workflows.compare import (
    Progress,
    RecordingChoice,
    compare_recordings,
    read_choice,
    read_choices,
    silent,
)
from wattwitness.workflows.meters import Meters

LONGEST_NOTES_BYTES = 200_000
Found = Comparison | AloneReport | Study | tuple[Study, ...]
"""What can be published: several studies stand side by side."""

PAGE, PAPER, RESULTS, EVIDENCE = "report.html", "report.pdf", "results.json", "evidence.zip"


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishOptions:
    """What goes into the folder beside the report: ``notes`` are the tester's own words, ``grounds`` what figures are
    drawn on. ``with_names`` leaves names of riders and files in; ``with_evidence`` adds the archive for the maker.
    """

    notes: str = ""
    grounds: tuple[Ground, ...] = (Ground.WHITE,)
    with_names: bool = False
    with_evidence: bool = False
    replace: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """A further file: its name, what it is in a few words, and its content."""

    name: str
    about: str
    content: bytes


def read_notes(path: Path) -> str:
    """The tester's words from a text file. Raises FileMissing, FileNotReadable, FileTooLarge."""
    if not path.is_file():
        raise FileMissing("There is no such file of notes.", where=str(path), hint="Check the path.")
    try:
        if path.stat().st_size > LONGEST_NOTES_BYTES:
            raise FileTooLarge(
                f"The notes are longer than {LONGEST_NOTES_BYTES // 1000} kB.", where=str(path), hint="Shorten them."
            )
        return path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise FileNotReadable(
            "The notes cannot be read as UTF-8 text.", where=str(path), hint="Save them as plain text in UTF-8."
        ) from error


def check_publication(folder: Path, options: PublishOptions, *, recordings: Path) -> None:
    """Refuse, before any ride is compared, a folder that must not be written.

    ``recordings`` is the folder, list or bench that is read: nothing is written into it. Raises OutputExists,
    OutputNotWritable.
    """
    from wattwitness.render.folder import check_folder

    if recordings.is_dir() and folder.resolve().is_relative_to(recordings.resolve()):
        raise OutputExists(
            "The publication would stand among the recordings.", where=str(folder), hint="Name a folder elsewhere."
        )
    check_folder(folder, replace=options.replace)


def publish_comparison(
    choices: Sequence[RecordingChoice],
    settings: CompareSettings,
    folder: Path,
    options: PublishOptions,
    *,
    meters_of: Callable[[int], Meters],
    progress: Progress = silent,
    tell: Progress = silent,
) -> tuple[Comparison, tuple[Path, ...]]:
    """Compare and publish. Raises what reading and comparing raise, OutputExists and OutputNotWritable."""
    from wattwitness.render.folder import check_folder
    from wattwitness.workflows.evidence import evidence_archive, hand_on

    check_folder(folder, replace=options.replace)
    extras: list[Extra] = []
    handed_on = None
    if options.with_evidence or not options.with_names:
        handed_on = hand_on(choices, settings, meters_of=meters_of, progress=progress)
        comparison = handed_on.comparison
    if options.with_names:
        read = read_choices(choices, progress=progress)
        comparison = compare_recordings(read, settings, meters=meters_of(len(read) - 1), progress=progress)
    if options.with_evidence and handed_on is not None:
        archive, _, _ = evidence_archive(handed_on, choices, settings, progress=progress)
        extras += [Extra(name=EVIDENCE, about="samples, episodes and copies, for the maker", content=archive)]
        extras += _statements(handed_on.comparison)
    return comparison, publish_found(comparison, folder, options, extras=extras, progress=progress, tell=tell)


def publish_alone(
    choice: RecordingChoice,
    settings: AloneSettings,
    folder: Path,
    options: PublishOptions,
    *,
    progress: Progress = silent,
    tell: Progress = silent,
) -> tuple[AloneReport, tuple[Path, ...]]:
    """Look at one recording and publish what it shows of itself."""
    from wattwitness.render.folder import check_folder
    from wattwitness.workflows.alone import alone_recording
    from wattwitness.workflows.evidence import handed_on_alone

    check_folder(folder, replace=options.replace)
    progress(f"reading {choice.file_name or Path(choice.argument).name}")
    recording = read_choice(choice)
    if not options.with_names:
        recording = handed_on_alone(recording, choice)
    report = alone_recording(recording, settings)
    return report, publish_found(report, folder, options, progress=progress, tell=tell)


def publish_found(
    found: Found,
    folder: Path,
    options: PublishOptions,
    *,
    unused: Sequence[tuple[str, str]] = (),
    extras: Sequence[Extra] = (),
    progress: Progress = silent,
    tell: Progress = silent,
) -> tuple[Path, ...]:
    """Write what was found into ``folder`` in one step, and return the files.

    A study loses its riders' names here; recordings must have lost theirs before they were compared, as the two
    functions above have it. ``unused`` are files that belong to no ride of a study, with the reason. ``progress`` may
    raise to stop: nothing is left behind then. ``tell`` gets what the tester should know of what was written. Raises
    OutputExists, OutputNotWritable.
    """
    from wattwitness.render.folder import check_folder, write_folder

    check_folder(folder, replace=options.replace)
    files = published_files(found, options, unused=unused, extras=extras, progress=progress, tell=tell)
    return write_folder(files, folder, replace=options.replace)


def published_files(
    found: Found,
    options: PublishOptions,
    *,
    unused: Sequence[tuple[str, str]] = (),
    extras: Sequence[Extra] = (),
    progress: Progress = silent,
    tell: Progress = silent,
) -> Iterator[tuple[str, bytes]]:
    """The same files one after the other, each with its name in the folder, for who writes them elsewhere."""
    from wattwitness.render.glyphs import sentence_of

    if isinstance(found, Study) and not options.with_names:
        found, unused = without_names(found, unused)
    if isinstance(found, tuple) and not options.with_names:
        found = tuple(without_names(study)[0] for study in found)
    publication, results = _publication(found, unused)
    publication = with_notes(publication, options.notes)
    lacking = sentence_of(publication, where="the PDF and the figures")
    if lacking:
        tell(lacking)
        publication = replace(publication, small_print=(*publication.small_print, lacking))
    members: dict[str, bytes] = {}
    about: dict[str, str] = {}
    for made in (*_written(publication, results, options, progress), *extras):
        members[made.name], about[made.name] = made.content, made.about
    yield from _listed(publication, members, about, options)


def _publication(found: Found, unused: Sequence[tuple[str, str]]) -> tuple[Publication, str]:
    """What is said, and the results for a program."""
    from wattwitness.render.alone_json import alone_text
    from wattwitness.render.json_form import comparison_text
    from wattwitness.render.study_json import studies_text, study_text
    from wattwitness.sections import publication

    if isinstance(found, Comparison):
        return publication.of_comparison(found), comparison_text(found)
    if isinstance(found, AloneReport):
        return publication.of_recording_alone(found), alone_text(found)
    if isinstance(found, tuple):
        return publication.of_studies(found), studies_text(found)
    return publication.of_study(found, unused), study_text(found, unused)


def _written(publication: Publication, results: str, options: PublishOptions, progress: Progress) -> Iterator[Extra]:
    """Every file but the lists, one after the other."""
    from wattwitness.render.figures import figure_files
    from wattwitness.render.html import page
    from wattwitness.render.markdown import table_text
    from wattwitness.render.pdf import pdf
    from wattwitness.writers.report_table import report_table

    progress("writing the page")
    words = "the whole report as one page; needs no network, and can stand inside another page"
    yield Extra(name=PAGE, about=words, content=page(publication).encode("utf-8"))
    progress("setting the PDF")
    yield Extra(name=PAPER, about="the same on paper, figures and tables numbered", content=pdf(publication))
    yield Extra(name=RESULTS, about="the results for a program", content=(results + "\n").encode("utf-8"))
    origin = f"{publication.about}; {publication.origin}"
    for name, table in publication.tables:
        yield Extra(name=f"tables/{name}.csv", about=table.caption, content=report_table(table))
        text = table_text(table, about=origin).encode("utf-8")
        yield Extra(name=f"tables/{name}.md", about=table.caption, content=text)
    for chart in publication.charts:
        progress(f"drawing {chart.title}")
        for name, content in figure_files(publication, options.grounds, charts=(chart,)):
            yield Extra(name=f"figures/{name}", about=chart.title, content=content)


def _listed(
    publication: Publication, members: dict[str, bytes], about: dict[str, str], options: PublishOptions
) -> Iterator[tuple[str, bytes]]:
    """Every file, and the two lists of them at the end."""
    from wattwitness.render.publication_readme import LIST, README, contents, readme

    about = {**about, LIST: "every file with its size and SHA-256, for a program"}
    members = {**members, README: readme(publication, about, with_names=options.with_names)}
    yield from members.items()
    yield LIST, contents(publication, members)


def _statements(comparison: Comparison) -> Iterator[Extra]:
    """The page for the maker of each unit, as it also stands in the archive."""
    from wattwitness.workflows.evidence_episodes import statement_pages

    for name, content in statement_pages(comparison).items():
        yield Extra(name=name, about="for the maker of the unit", content=content)
