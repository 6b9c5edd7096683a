"""Compare a reference with one or more units of the same ride: files in, the whole answer out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness import __version__
from wattwitness.agreement.stories.apart import with_more_meters
from wattwitness.clock.by_hand import clock_by_hand, held_against
from wattwitness.clock.fit import fit_clock
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import Comparison, PairComparison
from wattwitness.model.errors import SettingInvalid, TooFewRecordings
from wattwitness.model.recording import Recording
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile
from wattwitness.workflows.copies import warned_of_copies
from wattwitness.workflows.measure import measure_pair
from wattwitness.workflows.meters import Meters, findings_of_pair, with_meter
from wattwitness.workflows.own_names import under_its_own_name
from wattwitness.workflows.together import meters_together
from wattwitness.workflows.unusable import pair_without_clock
from wattwitness.workflows.votes import with_other_meters

Progress = Callable[[str], None]


def silent(_stage: str) -> None:
    """Progress that says nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingChoice:
    """One recording asked for: ``argument`` is a path, ``FILE#2`` for its second recording; ``label`` may be empty.

    ``mapping`` is a saved column mapping, for a table that needs one. ``file_name`` is the name the file came with,
    where it lies under another.
    """

    argument: str
    label: str = ""
    mapping: Path | None = None
    file_name: str = ""


def read_choice(choice: RecordingChoice) -> Recording:
    """One recording, labelled. Raises a WattwitnessError for anything that cannot be read."""
    from wattwitness.readers.open import read_one

    recording = under_its_own_name(read_one(choice.argument, mapping=choice.mapping), choice.file_name)
    return replace(recording, label=choice.label) if choice.label else recording


def read_choices(choices: Sequence[RecordingChoice], *, progress: Progress = silent) -> tuple[Recording, ...]:
    """Read the recordings asked for, labelled.

    A single file that holds several recordings gives them all, so that a file with two power sources can be compared
    with itself. Raises a WattwitnessError for anything that cannot be read, TooFewRecordings for fewer than two.
    """
    from wattwitness.readers.open import read_recordings, split_part

    if len(choices) == 1:
        progress(f"reading {Path(choices[0].argument).name}")
        path, part = split_part(choices[0].argument)
        recordings = read_recordings(path, mapping=choices[0].mapping)
        if part is not None or len(recordings) < 2:
            raise TooFewRecordings(
                "A comparison needs two recordings, and only one was given.",
                where=choices[0].argument,
                hint="Name the reference first, then each unit: compare REFERENCE UNIT.",
            )
        return recordings
    recordings_read: list[Recording] = []
    for choice in choices:
        progress(f"reading {choice.file_name or Path(choice.argument).name}")
        recordings_read.append(read_choice(choice))
    return tuple(recordings_read)


def compare_recordings(
    recordings: Sequence[Recording],
    settings: CompareSettings,
    *,
    meters: Meters | None = None,
    progress: Progress = silent,
) -> Comparison:
    """Compare the first recording, the reference, with every other, and the others with one another.

    ``meters`` describes them, as far as their owners did: what they state enters the budget, and a crank length that
    is to be put right is, before anything else.
    Raises TooFewRecordings for fewer than two, SettingInvalid for more offsets by hand than units.
    """
    if len(recordings) < 2:
        raise TooFewRecordings(
            "A comparison needs two recordings, and fewer were given.",
            hint="Name the reference first, then each unit: compare REFERENCE UNIT.",
        )
    meters = meters or Meters()
    reference = with_meter(recordings[0], meters.reference)
    units = [with_meter(unit, meters.unit(place)) for place, unit in enumerate(recordings[1:])]
    if len(settings.offsets_s) > len(units):
        raise SettingInvalid(
            f"{len(settings.offsets_s)} clock offsets were given for {len(units)} unit(s).",
            where="--offset-s",
            hint="Give at most one offset for each unit, in the order of the files; “auto” has it estimated.",
        )
    by_hand = settings.offsets_s + (None,) * (len(units) - len(settings.offsets_s))
    pairs = tuple(
        compare_pair(
            reference,
            unit,
            settings,
            offset_s=by_hand[place],
            reference_meter=meters.reference,
            unit_meter=meters.unit(place),
            progress=progress,
        )
        for place, unit in enumerate(units)
    )
    between_units = tuple(
        compare_pair(
            first,
            second,
            settings,
            offset_s=_offset_between(by_hand[i], by_hand[j]),
            reference_is_unit=True,
            reference_meter=meters.unit(i),
            unit_meter=meters.unit(j),
            progress=progress,
        )
        for i, first in enumerate(units)
        for j, second in enumerate(units)
        if j > i
    )
    pairs = warned_of_copies(pairs, between_units)
    if len(units) > 1:
        pairs = with_other_meters(pairs)
        pairs = tuple(replace(pair, stories=with_more_meters(pair.stories)) for pair in pairs)
    return Comparison(
        pairs=pairs,
        between_units=between_units,
        settings=settings,
        version=__version__,
        meters=meters_together(pairs, between_units, level=settings.level),
    )


def compare_pair(
    reference: Recording,
    unit: Recording,
    settings: CompareSettings,
    *,
    offset_s: float | None = None,
    reference_is_unit: bool = False,
    reference_meter: MeterFile | None = None,
    unit_meter: MeterFile | None = None,
    progress: Progress = silent,
) -> PairComparison:
    """Compare one unit with the reference.

    ``offset_s``: the clock given by hand. ``reference_is_unit``: the first recording is itself a unit, whose own
    uncertainty is not the reference's and stays out of ``bias_with_reference_pct``.
    """
    progress("finding one clock")
    clock = _clock(reference, unit, offset_s, settings)
    findings = findings_of_pair(reference, unit, reference_meter, unit_meter)
    if not clock.status.usable:
        return replace(pair_without_clock(reference, unit, clock, settings), setup_findings=findings)
    progress("measuring the difference")
    pair = measure_pair(
        reference,
        unit,
        clock,
        settings,
        reference_is_unit=reference_is_unit,
        reference_meter=reference_meter,
        unit_meter=unit_meter,
    )
    return replace(pair, setup_findings=findings)


def _clock(reference: Recording, unit: Recording, offset_s: float | None, settings: CompareSettings) -> ClockFit:
    found = fit_clock(reference, unit, level=settings.level)
    if offset_s is None:
        return found
    return held_against(clock_by_hand(unit, offset_s, level=settings.level), found)


def _offset_between(first_s: float | None, second_s: float | None) -> float | None:
    """The offset from the second unit to the first, where both were given against one reference."""
    return None if first_s is None or second_s is None else second_s - first_s
