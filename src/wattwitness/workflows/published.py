"""What was published from a bench: made into its folder ``published``, listed, and found again by number."""

from __future__ import annotations

import io
import re
import shutil
import time
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from wattwitness.bench.originals import check_original
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.render.folder import UNFINISHED
from wattwitness.workflows.anonymous_study import without_riders
from wattwitness.workflows.bench_changes import rides_on
from wattwitness.workflows.bench_studies import bench_study, listed_ride, ride_settings
from wattwitness.workflows.compare import RecordingChoice
from wattwitness.workflows.lone_recordings import choice_of, lone_recording_on
from wattwitness.workflows.meters import read_meters
from wattwitness.workflows.publish_all import PublishOptions, publish_alone, publish_comparison, publish_found
from wattwitness.workflows.ride_view import Bout, bout_of, bout_settings
from wattwitness.workflows.unit_view import unit_on, units_on

FOLDER = "published"
NAME = re.compile(r"(unit|ride|alone|bench)-(\d+)-(\d{8}T\d{6}Z)(-\d+)?")
LEFT_AFTER_S = 3600.0
"""No publication takes so long."""
MOST_NOTES_LETTERS = 200_000
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Published:
    """One publication: the folder's name, what it is about (``unit``, ``ride``, ``alone`` with its number; ``bench``
    with 0), when it was made (ISO 8601, UTC), and its files in the order of their names.
    """

    name: str
    about: str
    about_id: int
    made_at: str
    files: tuple[str, ...]


def publish_unit(bench: Path, unit_id: int, options: PublishOptions, *, progress: Progress) -> str:
    """Publish a unit's study; returns the name of the publication. Raises what comparing and publishing raise."""
    unit = unit_on(bench, unit_id)
    study = bench_study(bench, ListedStudy(rides=(), unit=unit.name), CompareSettings(), progress=progress)
    folder = _new_folder(bench, "unit", unit_id)
    publish_found(study, folder, _checked(options), progress=progress)
    return folder.name


def publish_side_by_side(bench: Path, options: PublishOptions, *, progress: Progress) -> str:
    """Publish every unit of the bench side by side; returns the name of the publication. Raises SettingInvalid."""
    units = units_on(bench)
    if not units:
        raise SettingInvalid("There is no unit on the bench.", where="the bench", hint="Add rides first.")
    studies = []
    for unit in units:
        progress(f"judging {unit.name}")
        asked = ListedStudy(rides=(), unit=unit.name)
        studies.append(bench_study(bench, asked, CompareSettings(), progress=progress))
    folder = _new_folder(bench, "bench", 0)
    publish_found(tuple(studies), folder, _checked(options), progress=progress)
    return folder.name


def publish_ride(bench: Path, ride_id: int, options: PublishOptions, *, progress: Progress) -> str:
    """Publish a ride, every unit of it against the reference as on its page; returns the publication's name."""
    bout = bout_of(bench, ride_id)
    for original in (one for ride in bout.rides for one in ride.files.values()):
        check_original(bench, original)
    folder = _new_folder(bench, "ride", ride_id)
    listed = [listed_ride(bench, ride) for ride in bout.rides]
    settings = bout_settings(bout, ride_settings(bench, bout.asked.unit_id))
    if not options.with_names:
        riders = [ride.noted.rider for ride in rides_on(bench)]
        settings = replace(settings, stretches_out=without_riders(settings.stretches_out, riders))
    publish_comparison(
        recordings_of_bout(bout, listed),
        settings,
        folder,
        _checked(options),
        meters_of=lambda compared: read_meters(
            listed[0].reference_meter, [one.unit_meter for one in listed], compared=compared
        ),
        progress=progress,
    )
    return folder.name


def recordings_of_bout(bout: Bout, listed: Sequence[ListedRide]) -> list[RecordingChoice]:
    """The reference's recording and every unit's, each with its columns and under the name it came with.

    ``listed`` are the rides of the bout with the paths of their originals.
    """
    reference = bout.asked.files["reference"].file_name
    choices = [RecordingChoice(argument=listed[0].reference, mapping=listed[0].sides[0][1], file_name=reference)]
    return choices + [
        RecordingChoice(
            argument=one.unit, label=ride.unit, mapping=one.sides[1][1], file_name=ride.files["unit"].file_name
        )
        for one, ride in zip(listed, bout.rides, strict=True)
    ]


def publish_lone_recording(bench: Path, lone_id: int, options: PublishOptions, *, progress: Progress) -> str:
    """Publish what a recording shows of itself; returns the name of the publication."""
    lone = lone_recording_on(bench, lone_id)
    check_original(bench, lone.original)
    folder = _new_folder(bench, "alone", lone_id)
    publish_alone(choice_of(bench, lone), AloneSettings(), folder, _checked(options), progress=progress)
    return folder.name


def published_on(bench: Path, about: str, about_id: int) -> list[Published]:
    """The publications of one unit, ride or recording by itself, the last first."""
    place = bench / FOLDER
    folders = [folder for folder in place.iterdir() if folder.is_dir()] if place.is_dir() else []
    found = [made for made in (_published(folder) for folder in folders) if made is not None]
    mine = [made for made in found if (made.about, made.about_id) == (about, about_id)]
    return sorted(mine, key=lambda made: (made.made_at, made.name), reverse=True)


def publication_on(bench: Path, name: str) -> Published:
    """The publication of that name. Raises UnknownName; a name is only ever looked up, never made a path of."""
    place = bench / FOLDER
    there = {folder.name: folder for folder in place.iterdir()} if place.is_dir() else {}
    made = _published(there[name]) if name in there else None
    if made is None:
        raise UnknownName("There is no such publication.", where=FOLDER, hint="It may have been moved: look there.")
    return made


def file_of(bench: Path, made: Published, number: int) -> Path:
    """The file of that number. Raises UnknownName."""
    if not 0 <= number < len(made.files):
        raise UnknownName("There is no such file.", where=made.name, hint="Load the page again.")
    return bench / FOLDER / made.name / made.files[number]


def as_one_file(bench: Path, made: Published) -> bytes:
    """All files of a publication as a zip, the same bytes each time."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in made.files:
            member = zipfile.ZipInfo(f"{made.name}/{name}")
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = 0o644 << 16
            archive.writestr(member, (bench / FOLDER / made.name / name).read_bytes())
    return whole.getvalue()


def _published(folder: Path) -> Published | None:
    found = NAME.fullmatch(folder.name)
    if found is None or folder.is_symlink():
        return None
    return Published(
        name=folder.name,
        about=found.group(1),
        about_id=int(found.group(2)),
        made_at=found.group(3),
        files=tuple(sorted(_files(folder))),
    )


def _files(folder: Path) -> Iterator[str]:
    for path in folder.rglob("*"):
        if path.is_file() and not path.is_symlink():
            yield path.relative_to(folder).as_posix()


def _sweep(place: Path) -> None:
    """Remove what a program that was killed left half made; what is being made now is younger."""
    for left in place.glob(f"{UNFINISHED}*"):
        if time.time() - left.stat().st_mtime > LEFT_AFTER_S:
            shutil.rmtree(left, ignore_errors=True)


def _new_folder(bench: Path, about: str, about_id: int) -> Path:
    (bench / FOLDER).mkdir(exist_ok=True)
    _sweep(bench / FOLDER)
    name = f"{about}-{about_id}-{datetime.now(tz=UTC):%Y%m%dT%H%M%SZ}"
    folder, number = bench / FOLDER / name, 2
    while folder.exists():
        folder, number = bench / FOLDER / f"{name}-{number}", number + 1
    return folder


def _checked(options: PublishOptions) -> PublishOptions:
    if len(options.notes) > MOST_NOTES_LETTERS or not options.grounds:
        raise SettingInvalid(
            "The notes are too long, or no ground for figures was chosen.",
            where="notes",
            hint="Shorten the notes, and choose what figures are drawn on.",
        )
    return options
