"""One ride of a study: files in, figures out, in a process of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.model.comparison import PairComparison
from wattwitness.model.corrected_copy import SAYS_NOTHING, is_corrected
from wattwitness.model.errors import CorrectionInvalid, WattwitnessError
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import Recording
from wattwitness.model.ride_list import ListedRide
from wattwitness.model.rider import ZoneSet
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures
from wattwitness.readers.open import split_part
from wattwitness.rider.threshold import threshold_test
from wattwitness.rider.zones import zones_ridden
from wattwitness.study.ride_figures import RideNotes, figures_of_ride
from wattwitness.workflows.compare import RecordingChoice, compare_recordings, read_choices
from wattwitness.workflows.meters import read_meters
from wattwitness.workflows.own_names import under_its_own_name


@dataclass(frozen=True, slots=True, kw_only=True)
class RideTask:
    """What another process needs to know of one ride."""

    ride: ListedRide
    settings: CompareSettings
    zones: ZoneSet
    threshold_w: float | None
    unit: str = ""


REFERENCE, UNIT = "the reference", "the unit"
FILES = ("the reference’s file", "the unit’s file")
"""What files are called in a study's sentences: the ride says which, and their names may name a rider."""


def figures_of(task: RideTask) -> RideFigures:
    """Compare the ride and keep its figures; a ride that cannot be read is one that does not count, with the reason."""
    ride = task.ride
    try:
        choices = [
            RecordingChoice(argument=file, mapping=mapping, label=label)
            for (file, mapping), label in zip(ride.sides, (REFERENCE, task.unit or UNIT), strict=True)
        ]
        read = read_choices(choices)
        recordings = [under_its_own_name(one, name) for one, name in zip(read, FILES, strict=True)]
        _refuse_corrected(recordings)
        meters = read_meters(ride.reference_meter, [ride.unit_meter], compared=1)
        settings = replace(
            task.settings, offsets_s=() if ride.offset_s is None else (ride.offset_s,), stretches_out=ride.stretches_out
        )
        pair = compare_recordings(recordings, settings, meters=meters).pairs[0]
    except WattwitnessError as error:
        return _unreadable(task, error)
    figures = replace(
        figures_of_ride(pair, _notes(task)),
        stretches_out_s=tuple((stretch.from_s, stretch.to_s) for stretch in ride.stretches_out),
    )
    return _with_rider(figures, pair, task)


def _refuse_corrected(recordings: Sequence[Recording]) -> None:
    """A study is of meters as they stand. Raises CorrectionInvalid."""
    for recording in recordings:
        if is_corrected(recording):
            raise CorrectionInvalid(
                f"The ride does not count, for {SAYS_NOTHING}.",
                where=recording.source.file_name,
                hint="Name the original instead.",
            )


def _notes(task: RideTask) -> RideNotes:
    ride = task.ride
    return RideNotes(
        name=ride.name,
        unit=task.unit,
        day=ride.day,
        firmware=ride.firmware,
        rider=ride.rider,
        group=ride.group,
        temperature_c=math.nan if ride.temperature_c is None else ride.temperature_c,
        excluded=ride.excluded,
    )


def _with_rider(figures: RideFigures, pair: PairComparison, task: RideTask) -> RideFigures:
    """Zones and threshold, where power was compared."""
    series = pair.series
    if not pair.overall.bias_pct.assessed:
        return figures
    zones = task.zones
    test = threshold_test(series.reference_w, series.unit_w, zones)
    threshold_w, origin = task.threshold_w, "stated"
    if threshold_w is None:
        threshold_w, origin = test.reference_w, f"{100 * test.share:g} % of the reference's best 20 minutes"
    ridden = None
    if threshold_w is not None and threshold_w > 0:
        ridden = zones_ridden(
            series.reference_w, series.expected_w, series.unit_w, zones, threshold_w, threshold_from=origin
        )
    return replace(figures, zones_ridden=ridden, threshold_test=test, within_pct=pair.overall.wander_pct)


def _unreadable(task: RideTask, error: WattwitnessError) -> RideFigures:
    missing = Estimate.missing(error.slug, "%")
    where = f" ({Path(error.where).name})" if error.where else ""
    why = f"{error.what}{where}"
    for (argument, _), file in zip(task.ride.sides, FILES, strict=True):
        why = why.replace(split_part(argument)[0].name, file)
    notes = _notes(task)
    return RideFigures(
        name=notes.name,
        unit=notes.unit,
        day=notes.day,
        hours=math.nan,
        bias_pct=missing,
        bias_se_pct=math.nan,
        bias_degrees=math.nan,
        standardised_pct=missing,
        standardised_se_pct=math.nan,
        standardised_degrees=math.nan,
        gain_pct=math.nan,
        zero_nm=math.nan,
        relation_covariance=(math.nan, math.nan, math.nan),
        mean_w=math.nan,
        mean_rpm=math.nan,
        left_out=error.slug,
        left_out_why=why,
        firmware=notes.firmware,
        rider=notes.rider,
        group=notes.group,
        temperature_c=notes.temperature_c,
    )
