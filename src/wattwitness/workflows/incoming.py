"""Files on their way to a bench: in batches on its disk, so that a crash at any moment loses nothing that had arrived.

``incoming/<batch>/records/<id>.json`` says what is awaited and what is here, ``parts/`` holds what is being sent, and
``files/`` what has arrived whole, under names made safe. A file that is announced and not here is to be sent again.
"""

from __future__ import annotations

import re
import secrets
import shutil
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from wattwitness.bench.json_form import from_text, to_text
from wattwitness.model.errors import FileTooLarge, OutputNotWritable, SettingInvalid, UnknownName, WattwitnessError
from wattwitness.readers.open import LIMIT_BYTES
from wattwitness.words.names import clean
from wattwitness.workflows.safe_names import safe_folder, safe_name
from wattwitness.workflows.saved_words import put_text

FOLDER = "incoming"
RIDES = "rides.json"
"""What was proposed of a batch, and what the tester made of it."""
BATCH = re.compile(r"[0-9a-f]{12}")
FILE = re.compile(r"[0-9a-f]{10}")
MOST_FILES = 2000
MOST_LETTERS = 1000
SPARE_BYTES = 64 << 20
"""What stays free on the disk. What arrives is needed twice: here, and on the bench once it is kept."""
THROWN = ".thrown-"
FIRST_IS_HERE = threading.Lock()
"""Two files of one name that end at one moment must not take the same place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Announced:
    """A file that a page is going to send: its own name, the folders it was in, and its size."""

    name: str
    folder: str = ""
    size_bytes: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """One file of a batch.

    ``name`` and ``folder`` are its own, for display; ``place`` is where it lies under ``files`` (empty: not here yet),
    ``same_as`` the id of a file with the same bytes that was there before.
    """

    id: str
    order: int
    name: str
    folder: str
    size_bytes: int
    place: str = ""
    sha256: str = ""
    same_as: str = ""

    @property
    def awaited(self) -> bool:
        """Whether it is still to be sent."""
        return not self.place and not self.same_as

    @property
    def shown(self) -> str:
        """Its name with the folders before it, as it can be shown: never empty, and no sign in it turns it around."""
        whole = f"{self.folder}/{self.name}" if self.folder else self.name
        return clean(whole, longest=MOST_LETTERS) or "a file without a name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """What was dropped together. ``begun_at`` is ISO 8601 in UTC."""

    id: str
    begun_at: str
    arrivals: tuple[Arrival, ...]

    @property
    def here(self) -> tuple[Arrival, ...]:
        """The files that have arrived, each content once."""
        return tuple(one for one in self.arrivals if one.place)

    @property
    def awaited(self) -> tuple[Arrival, ...]:
        """Those that are still to be sent."""
        return tuple(one for one in self.arrivals if one.awaited)


def begin_batch(bench: Path) -> str:
    """Make an empty batch and return its id. Raises OutputNotWritable."""
    batch = secrets.token_hex(6)
    try:
        for name in ("records", "parts", "files"):
            (bench / FOLDER / batch / name).mkdir(parents=True)
        put_text(bench / FOLDER / batch / "begun", datetime.now(tz=UTC).isoformat(timespec="seconds"))
    except OSError as error:
        raise not_writable(bench, error) from error
    return batch


def batches(bench: Path) -> list[Batch]:
    """Every batch that is on the disk, the newest first; what was being thrown away when a crash came goes now."""
    home = bench / FOLDER
    if not home.is_dir():
        return []
    for left in home.glob(f"{THROWN}*"):
        shutil.rmtree(left, ignore_errors=True)
    found = [batch_of(bench, path.name) for path in home.iterdir() if BATCH.fullmatch(path.name)]
    return sorted(found, key=lambda batch: batch.begun_at, reverse=True)


def batch_of(bench: Path, batch: str) -> Batch:
    """One batch as it stands. Raises UnknownName."""
    home = home_of(bench, batch)
    begun = home / "begun"
    arrivals = []
    for path in (home / "records").glob("*.json"):
        try:
            arrivals.append(from_text(Arrival, path.read_text(encoding="utf-8"), whole=True))
        except (ValueError, OSError):
            continue  # taken out this moment, or not ours
    arrivals = [one for one in arrivals if FILE.fullmatch(one.id)]
    return Batch(
        id=batch,
        begun_at=begun.read_text(encoding="utf-8") if begun.is_file() else "",
        arrivals=tuple(sorted(arrivals, key=lambda one: (one.order, one.id))),
    )


def home_of(bench: Path, batch: str) -> Path:
    """The folder of a batch. Raises UnknownName."""
    home = bench / FOLDER / batch
    if not BATCH.fullmatch(batch) or not home.is_dir():
        raise UnknownName(
            "These files are no longer here: they were kept or thrown away.",
            where="/add",
            hint="Look on the bench, or add them again.",
        )
    return home


def arrival_of(bench: Path, batch: str, file: str) -> Arrival:
    """One file of a batch. Raises UnknownName."""
    home = home_of(bench, batch)
    try:
        if FILE.fullmatch(file):
            return from_text(Arrival, (home / "records" / f"{file}.json").read_text(encoding="utf-8"), whole=True)
    except (ValueError, OSError):
        pass
    raise UnknownName("This file is no longer among those to add.", where=file[:40], hint="Load the page again.")


def path_of_arrival(bench: Path, batch: str, arrival: Arrival) -> Path:
    """Where the bytes of a file that is here lie. Raises UnknownName where it is not."""
    if not arrival.place:
        raise UnknownName("This file has not arrived yet.", where=arrival.name, hint="Send it again.")
    return home_of(bench, batch) / "files" / arrival.place


def announce(bench: Path, batch: str, files: Sequence[Announced]) -> list[Arrival | WattwitnessError]:
    """Write down what is going to be sent, and answer for each file: expected, or refused before a byte is sent.

    A file that is awaited already, by its name, folders and size, is expected once. Raises UnknownName,
    SettingInvalid, OutputNotWritable.
    """
    known = batch_of(bench, batch)
    if len(known.arrivals) + len(files) > MOST_FILES:
        raise SettingInvalid(
            f"More than {MOST_FILES} files at a time are not taken.",
            where=f"{len(files)} files",
            hint="Add them in several steps: the rides of a month, or of one bike.",
        )
    awaited = {(one.name, one.folder, one.size_bytes): one for one in known.awaited}
    room = free_bytes(bench) - sum(one.size_bytes for one in (*known.awaited, *known.here, *known.awaited))
    answers: list[Arrival | WattwitnessError] = []
    for number, file in enumerate(files):
        name, folder = file.name[:MOST_LETTERS], file.folder[:MOST_LETTERS]
        again = awaited.pop((name, folder, file.size_bytes), None)
        if again is not None:
            answers.append(again)
            continue
        refusal = _refusal(file, room)
        if refusal is not None:
            answers.append(refusal)
            continue
        room -= 2 * file.size_bytes
        arrival = Arrival(
            id=secrets.token_hex(5),
            order=time.time_ns() + number,
            name=name,
            folder=folder,
            size_bytes=file.size_bytes,
        )
        put_record(bench, batch, arrival)
        answers.append(arrival)
    return answers


def _refusal(file: Announced, room: int) -> WattwitnessError | None:
    if file.size_bytes > LIMIT_BYTES:
        return too_large(file.name)
    if file.size_bytes < 0:
        return SettingInvalid("Its size is no size.", where=safe_name(file.name), hint="Load the page again.")
    return disk_full(file.name) if 2 * file.size_bytes > room else None


def put_record(bench: Path, batch: str, arrival: Arrival) -> None:
    """Write down where a file stands. Raises OutputNotWritable."""
    try:
        put_text(home_of(bench, batch) / "records" / f"{arrival.id}.json", to_text(arrival))
    except OSError as error:
        raise not_writable(bench, error) from error


def arrived(bench: Path, batch: str, arrival: Arrival, part: Path, *, size_bytes: int, sha256: str) -> Arrival:
    """Give a part that is whole and on the disk its place; a second file of the same bytes is not kept twice.

    Raises UnknownName where the file was taken out meanwhile, OutputNotWritable.
    """
    with FIRST_IS_HERE:
        now = batch_of(bench, batch)
        known = next((one for one in now.arrivals if one.id == arrival.id), None)
        if known is None:
            part.unlink(missing_ok=True)
            raise UnknownName("It was taken out while it was being sent.", where=arrival.name, hint="Send it again.")
        twin = next((one for one in now.here if one.sha256 == sha256 and one.id != arrival.id), None)
        if twin is not None or known.place:
            part.unlink(missing_ok=True)
        if known.place:
            return known  # another tab was first
        if twin is not None:
            there = replace(known, same_as=twin.id, sha256=sha256, size_bytes=size_bytes)
        else:
            place = _place(home_of(bench, batch) / "files", known)
            try:
                (home_of(bench, batch) / "files" / place).parent.mkdir(exist_ok=True)
                part.replace(home_of(bench, batch) / "files" / place)
            except OSError as error:
                raise not_writable(bench, error) from error
            there = replace(known, place=place, sha256=sha256, size_bytes=size_bytes)
        put_record(bench, batch, there)
        return there


def _place(files: Path, arrival: Arrival) -> str:
    """A place of its own under ``files``: its safe name, in its safe folder, or in a numbered one where that is taken.

    Files of one folder stay together: recordings without a date are paired by it.
    """
    name, folder = safe_name(arrival.name), safe_folder(arrival.folder)
    taken = {str(path.relative_to(files)).casefold() for path in files.rglob("*")}
    loose = f"{folder}/{name}" if folder else name
    tries = [loose, *(f"{folder or 'again'} {number}/{name}" for number in range(2, MOST_FILES + 2))]
    return next(one for one in tries if _is_free(one.casefold(), files, taken))


def _is_free(place: str, files: Path, taken: set[str]) -> bool:
    folder, _, _ = place.rpartition("/")
    return place not in taken and not (folder and (files / folder).is_file())


def take_out(bench: Path, batch: str, file: str) -> None:
    """Take a file out of a batch; one with the same bytes takes its place. Raises UnknownName, OutputNotWritable."""
    with FIRST_IS_HERE:
        arrival, home = arrival_of(bench, batch, file), home_of(bench, batch)
        twins = [one for one in batch_of(bench, batch).arrivals if one.same_as == file]
        heir = twins[0].id if twins else ""
        for one in twins:
            inherits = one.id == heir
            place = arrival.place if inherits else ""
            put_record(bench, batch, replace(one, place=place, same_as="" if inherits else heir))
        (home / "records" / f"{arrival.id}.json").unlink(missing_ok=True)
        (home / "read" / f"{arrival.id}.json").unlink(missing_ok=True)
        if arrival.place and not heir:
            (home / "files" / arrival.place).unlink(missing_ok=True)


def throw_away(bench: Path, batch: str) -> None:
    """Remove a batch with all that is in it. Raises UnknownName, OutputNotWritable."""
    home = home_of(bench, batch)
    gone = home.with_name(f"{THROWN}{secrets.token_hex(6)}")
    try:
        home.rename(gone)  # at once for every reader; what a crash leaves of it is removed later
    except OSError as error:
        raise not_writable(bench, error) from error
    shutil.rmtree(gone, ignore_errors=True)


def free_bytes(bench: Path) -> int:
    """What may still be written to the bench's disk."""
    return shutil.disk_usage(bench).free - SPARE_BYTES


def too_large(name: str) -> FileTooLarge:
    """What is said of a file that no recording is."""
    return FileTooLarge(
        f"It has more than {LIMIT_BYTES >> 20} MiB; no recording of a ride has, and nothing of it was kept.",
        where=safe_name(name),
        hint="Export a single ride, or one device’s recording.",
    )


def disk_full(name: str) -> OutputNotWritable:
    """What is said where the disk has no room."""
    return OutputNotWritable(
        "The bench’s disk has no room for it.",
        where=safe_name(name),
        hint="Make room: a file is needed twice for the time until its ride is kept. Then send it again.",
    )


def not_writable(bench: Path, error: OSError) -> OutputNotWritable:
    """What is said where the bench’s folder cannot be written."""
    return OutputNotWritable(
        f"The bench cannot be written: {error.strerror or error}.",
        where=str(bench),
        hint="Check that the disk is not full and that you may write there; then try again.",
    )
