"""Write the evidence of one comparison as a bundle that can be handed on, verified and computed again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import FileNotReadable, OutputExists, OutputNotWritable
from wattwitness.model.evidence import Bundle, BundledRecording, OriginalFile
from wattwitness.model.private_data import PrivateFile
from wattwitness.model.recording import Recording
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.anonymous import (
    anonymous,
    anonymous_meters,
    default_labels,
    private_words,
    roles,
)
from wattwitness.workflows.compare import Progress, RecordingChoice, compare_recordings, read_choices, silent
from wattwitness.workflows.evidence_episodes import AROUND_S, unit_files
from wattwitness.workflows.meters import Meters

Confirm = Callable[[Sequence[PrivateFile]], None]
"""Shows what private data originals hold and asks; raises where the answer is no."""

PARTS = ("numpy", "scipy", "matplotlib")


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceWritten:
    """What was written, and the comparison it rests on, as it stands in the bundle."""

    path: Path
    comparison: Comparison
    bundle: Bundle
    files: int


def check_evidence_output(out: Path, choices: Sequence[RecordingChoice], *, replace: bool) -> None:
    """Refuse, before any work is done, an output that cannot be or must not be. Raises OutputExists, OutputNotWritable.

    A recording is never overwritten, not even with ``replace``.
    """
    inputs = {path.resolve() for choice in choices for path in (_path(choice), Path(choice.argument))}
    if out.resolve() in inputs:
        raise OutputExists(
            "The output would overwrite one of the recordings.", where=str(out), hint="Give it another name."
        )
    if out.exists() and not out.is_file():
        raise OutputNotWritable(
            "Something that is no ordinary file stands there, and it was left as it is.",
            where=str(out),
            hint="Name an ordinary file, or one that does not exist yet.",
        )
    if out.exists() and not replace:
        raise OutputExists(
            "There is something of that name already.",
            where=str(out),
            hint="Give another name, or add --replace to write over it.",
        )
    if not out.resolve().parent.is_dir():
        raise OutputNotWritable(
            "There is no such folder.", where=str(out), hint="Make the folder first, or name another."
        )


def write_evidence(
    choices: Sequence[RecordingChoice],
    settings: CompareSettings,
    out: Path,
    *,
    meters_of: Callable[[int], Meters],
    confirm_originals: Confirm | None = None,
    replace: bool = False,
    progress: Progress = silent,
) -> EvidenceWritten:
    """Compare, and write everything that speaks for or against each unit into one archive.

    ``meters_of`` gives the meters' descriptions for a number of units. ``confirm_originals``: put the original files in
    too, after it was shown what they hold and has not raised. Raises what reading and comparing raise, OutputExists and
    OutputNotWritable; nothing is left behind then.
    """
    from wattwitness.render.saving import save

    check_evidence_output(out, choices, replace=replace)
    handed_on = hand_on(choices, settings, meters_of=meters_of, confirm_originals=confirm_originals, progress=progress)
    content, bundle, files = evidence_archive(handed_on, choices, settings, progress=progress)
    save(content, out, replace=replace)
    return EvidenceWritten(path=out, comparison=handed_on.comparison, bundle=bundle, files=files)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HandedOn:
    """Recordings as read and as they may be handed on, with the comparison of the latter."""

    read: tuple[Recording, ...]
    recordings: tuple[Recording, ...]
    meters: Meters
    private: dict[Path, PrivateFile]
    comparison: Comparison
    originals_too: bool


def hand_on(
    choices: Sequence[RecordingChoice],
    settings: CompareSettings,
    *,
    meters_of: Callable[[int], Meters],
    confirm_originals: Confirm | None = None,
    progress: Progress = silent,
) -> HandedOn:
    """Read, leave out what names a person or a device, and compare. Raises what reading and comparing raise."""
    read = read_choices(choices, progress=progress)
    meters = anonymous_meters(meters_of(len(read) - 1), len(read))
    progress("looking for private data")
    paths = list(dict.fromkeys(_path(choice) for choice in choices))
    private = {path: _private(path, choices) for path in paths}
    if confirm_originals is not None:
        confirm_originals(tuple(private.values()))
    recordings = _handed_on(read, choices, tuple(private.values()))
    return HandedOn(
        read=read,
        recordings=recordings,
        meters=meters,
        private=private,
        comparison=compare_recordings(recordings, settings, meters=meters, progress=progress),
        originals_too=confirm_originals is not None,
    )


def evidence_archive(
    handed_on: HandedOn, choices: Sequence[RecordingChoice], settings: CompareSettings, *, progress: Progress = silent
) -> tuple[bytes, Bundle, int]:
    """The archive's bytes, what it is made of, and how many files are in it."""
    from wattwitness.render.evidence.archive import archive

    recordings = handed_on.recordings
    members = _tables(recordings, handed_on.meters)
    originals = _originals(
        handed_on.read, choices, handed_on.private, included=handed_on.originals_too, members=members
    )
    bundle = _bundle(handed_on.comparison, recordings, originals, settings, members, progress)
    progress("packing")
    return archive(members), bundle, len(members) + 1


def _path(choice: RecordingChoice) -> Path:
    from wattwitness.readers.open import split_part

    return split_part(choice.argument)[0]


def _private(path: Path, choices: Sequence[RecordingChoice]) -> PrivateFile:
    from wattwitness.readers.private_data import private_data

    mapping = next(choice.mapping for choice in choices if _path(choice) == path)
    return private_data(path, mapping=mapping)


def _handed_on(
    read: Sequence[Recording], choices: Sequence[RecordingChoice], private: Sequence[PrivateFile]
) -> tuple[Recording, ...]:
    """The recordings as they go into the bundle; a name the tester gave is the tester's to give."""
    words = private_words(private)
    given = [choice.label for choice in choices] + [""] * (len(read) - len(choices))
    labels = [name or default for name, default in zip(given, default_labels(len(read)), strict=False)]
    return tuple(
        anonymous(recording, role, label, words)
        for recording, role, label in zip(read, roles(len(read)), labels, strict=True)
    )


def handed_on_alone(recording: Recording, choice: RecordingChoice) -> Recording:
    """One recording as it may be handed on by itself."""
    private = (_private(_path(choice), [choice]),)
    return anonymous(recording, "recording", choice.label or "the recording", private_words(private))


def _tables(recordings: Sequence[Recording], meters: Meters) -> dict[str, bytes]:
    """The copies, each read back to be sure that it is what was compared, and the meters' descriptions."""
    from wattwitness.writers.meter_file import meter_toml
    from wattwitness.writers.ride_copy import ride_copy

    members: dict[str, bytes] = {}
    for place, (role, recording) in enumerate(zip(roles(len(recordings)), recordings, strict=True)):
        content = ride_copy(recording)
        _read_back(content, recording)
        members[f"recordings/{role}.csv"] = content
        meter = meters.unit(place - 1) if place else meters.reference
        if meter is not None:
            members[f"meters/{role}.toml"] = meter_toml(meter).encode("utf-8")
    return members


def _read_back(content: bytes, recording: Recording) -> None:
    """Raise RuntimeError where a copy would not give what was compared: a bundle must not promise what it cannot."""
    from wattwitness.readers.ride_copy import same_samples

    if not same_samples(content, recording):
        raise RuntimeError(f"the copy {recording.source.file_name} does not read back as it was compared")


def _originals(
    read: Sequence[Recording],
    choices: Sequence[RecordingChoice],
    private: dict[Path, PrivateFile],
    *,
    included: bool,
    members: dict[str, bytes],
) -> list[OriginalFile]:
    """What is said of each recording's original; those asked for are added to ``members``."""
    from wattwitness.readers.open import read_bytes
    from wattwitness.render.evidence.archive import sha256

    names: dict[Path, str] = {}
    found = []
    each = list(choices) * len(read) if len(choices) == 1 else list(choices)
    for recording, choice in zip(read, each, strict=True):
        path, source = _path(choice), recording.source
        if included and path not in names:
            content = read_bytes(path)
            if sha256(content) != source.sha256:
                raise FileNotReadable(
                    "The file changed while it was compared.", where=path.name, hint="Run the command again."
                )
            names[path] = f"originals/original-{len(names) + 1}.{_suffix(source.format_name, content)}"
            members[names[path]] = content
        kinds = tuple(dict.fromkeys(item.kind for item in private[path].items))
        found.append(
            OriginalFile(
                sha256=source.sha256,
                size_bytes=source.size_bytes,
                format_name=source.format_name,
                part=source.part,
                member=names.get(path, ""),
                private=kinds,
            )
        )
    return found


def _suffix(format_name: str, content: bytes) -> str:
    suffix = format_name if format_name in ("fit", "tcx", "gpx") else "csv"
    return f"{suffix}.gz" if content.startswith(b"\x1f\x8b") else suffix


def _bundle(
    comparison: Comparison,
    recordings: Sequence[Recording],
    originals: Sequence[OriginalFile],
    settings: CompareSettings,
    members: dict[str, bytes],
    progress: Progress,
) -> Bundle:
    """Add results, episodes, statements, README and manifest to ``members``; return what the last two are made of."""
    from wattwitness.render.evidence.manifest import manifest
    from wattwitness.render.evidence.readme import readme
    from wattwitness.render.html import page
    from wattwitness.render.json_form import comparison_text
    from wattwitness.sections.publication import of_comparison

    progress("writing results")
    members["results/comparison.json"] = (comparison_text(comparison) + "\n").encode("utf-8")
    members["results/report.html"] = page(of_comparison(comparison)).encode("utf-8")
    units = unit_files(comparison, recordings, members, progress)
    bundled = tuple(
        BundledRecording(
            role=role,
            label=recording.label,
            copy=f"recordings/{role}.csv",
            meter=f"meters/{role}.toml" if f"meters/{role}.toml" in members else "",
            original=original,
        )
        for role, recording, original in zip(roles(len(recordings)), recordings, originals, strict=True)
    )
    bundle = Bundle(
        version=comparison.version,
        versions=_versions(),
        settings=tuple((item.name, getattr(settings, item.name)) for item in fields(settings)),
        recordings=bundled,
        units=units,
        command=tuple(_command(bundled, settings)),
        around_s=AROUND_S,
    )
    members["README.txt"] = readme(bundle)
    members["manifest.json"] = manifest(bundle, members)
    return bundle


def _versions() -> tuple[tuple[str, str], ...]:
    import platform
    from importlib.metadata import version

    return (("python", platform.python_version()), *((part, version(part)) for part in PARTS))


def _command(recordings: Sequence[BundledRecording], settings: CompareSettings) -> list[str]:
    """What computes the numbers again from the unpacked folder, with every setting that is not the default."""
    words = ["wattwitness", "compare", *(recording.copy for recording in recordings), "--format", "json"]
    if recordings[0].meter:
        words += ["--reference-meter", recordings[0].meter]
    if any(recording.meter for recording in recordings[1:]):
        for recording in recordings[1:]:
            words += ["--unit-meter", recording.meter or "none"]
    default = CompareSettings()
    for item in fields(settings):
        value = getattr(settings, item.name)
        if value == getattr(default, item.name):
            continue
        if item.name == "offsets_s":
            for offset_s in value:
                words += ["--offset-s", "auto" if offset_s is None else repr(offset_s)]
        elif item.name == "stretches_out":
            for one in value:
                words += ["--leave-out", f"{one.from_s!r}:{one.to_s!r}={one.reason}"]
        elif value is not None:
            words += ["--" + item.name.replace("_", "-"), repr(value)]
    return words
