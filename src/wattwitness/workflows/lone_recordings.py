"""Recordings on a bench that have no second meter beside them: kept, looked at, published, taken off."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.lone_recordings import LoneRecording, lone_recordings_of, put_lone_recording
from wattwitness.bench.originals import check_original, original_path
from wattwitness.bench.rides import put_original
from wattwitness.bench.tables import LONE_RECORDINGS
from wattwitness.model.alone import AloneReport
from wattwitness.model.errors import UnknownName
from wattwitness.model.settings import AloneSettings
from wattwitness.workflows.alone import alone_recording
from wattwitness.workflows.bench_record import changing
from wattwitness.workflows.compare import RecordingChoice, read_choice


def lone_recordings_on(bench: Path) -> list[LoneRecording]:
    """Every recording that is kept and belongs to no ride, in the order they came."""
    with catalogue(bench) as connection:
        return lone_recordings_of(connection, bench)


def lone_recording_on(bench: Path, lone_id: int) -> LoneRecording:
    """One of them. Raises UnknownName."""
    found = next((one for one in lone_recordings_on(bench) if one.id == lone_id), None)
    if found is None:
        raise UnknownName(
            f"There is no recording {lone_id} by itself on the bench.",
            where="the bench",
            hint="It may belong to a ride by now, or have been taken off: look there.",
        )
    return found


def keep_lone_recordings(bench: Path, lone: Sequence[LoneRecording]) -> None:
    """Write recordings down whose bytes are kept; those that are there already stay as they are."""
    with changing(bench) as (connection, record):
        for one in lone:
            put_original(connection, one.original)
            if one.mapping is not None:
                put_original(connection, one.mapping)
            put_lone_recording(connection, record, one)
        names = ", ".join(f"“{one.name}”" for one in lone)
        record.done(f"{names} {'was' if len(lone) == 1 else 'were'} kept with no second recording.")


def take_lone_recording_off(bench: Path, lone_id: int) -> None:
    """Take one off the bench; its bytes stay. Raises UnknownName."""
    lone = lone_recording_on(bench, lone_id)
    with changing(bench) as (_connection, record):
        record.remove(LONE_RECORDINGS, lone.id)
        record.done(f"“{lone.name}” was taken off the bench; its bytes stay.")


def choice_of(bench: Path, lone: LoneRecording) -> RecordingChoice:
    """The recording as a command names it, under the name its file came with."""
    path = original_path(bench, lone.original.sha256, lone.original.file_name)
    described = lone.mapping
    mapping = None if described is None else original_path(bench, described.sha256, described.file_name)
    argument = f"{path}" if lone.part is None else f"{path}#{lone.part}"
    return RecordingChoice(argument=argument, mapping=mapping, file_name=lone.original.file_name)


def lone_report(bench: Path, lone: LoneRecording, settings: AloneSettings) -> AloneReport:
    """What it shows of itself. Raises BenchInvalid where it is no longer what was kept, and what reading raises."""
    check_original(bench, lone.original)
    return alone_recording(read_choice(choice_of(bench, lone)), settings)
