"""Do the recordings of a proposed ride hold one effort: the clock fit asked before a tester confirms it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import combinations

from wattwitness.clock.fit import fit_clock
from wattwitness.clock.one_number import one_number_words
from wattwitness.engine.pool import in_order
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.errors import WattwitnessError
from wattwitness.model.recording import Recording
from wattwitness.model.ride_list import ListedRide
from wattwitness.workflows.measure import cadence_shared

FITTING = (ClockStatus.FOUND, ClockStatus.FOUND_WITH_DELAY)
DOUBTFUL = (ClockStatus.NO_COMMON_EFFORT, ClockStatus.SAME_SOURCE)
EARLIEST_UTC_S = 946_684_800.0
"""The year 2000: earlier dates are those of a clock that was never set."""

MOST_LONE = 12
"""Recordings without a partner that are tried against one another: their pairs grow with the square."""

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What the clock fit says of two recordings: its status (``None``: they could not be read), a sentence, and, as far
    as the files tell, the meters that wrote the reference and the unit, the day (ISO 8601) and the unit's firmware.
    """

    status: ClockStatus | None
    says: str
    wrote: tuple[str, str] = ("", "")
    day: str = ""
    firmware: str = ""

    @property
    def doubtful(self) -> bool:
        """Whether the two should not be taken for one ride without a look."""
        return self.status is None or self.status in DOUBTFUL

    def to_be_kept(self, *, proposed: bool) -> bool:
        """Whether a bench keeps the two as a ride: what the tester listed, unless it is one recording twice; of what
        was ``proposed``, what is not doubtful.
        """
        return self.status is not ClockStatus.SAME_SOURCE and not (self.doubtful and proposed)


def match_rides(
    rides: Sequence[ListedRide], *, progress: Progress = lambda _: None, processes: int | None = None
) -> list[Match]:
    """Hold the two recordings of every ride against each other, over all cores."""
    found = []
    for done, match in enumerate(in_order(match_ride, rides, processes=processes), start=1):
        found.append(match)
        progress(f"held the efforts of {done} of {len(rides)} rides against each other")
    return found


def match_ride(ride: ListedRide) -> Match:
    """The clock fit of one ride, in words."""
    from wattwitness.readers.open import read_one

    try:
        reference, unit = (read_one(file, mapping=mapping) for file, mapping in ride.sides)
        clock = fit_clock(reference, unit)
    except WattwitnessError as error:
        return Match(status=None, says=f"One of the two cannot be read: {error.what}")
    shared = [notice.message for notice in cadence_shared((reference, unit))]
    still = one_number_words(reference, unit) if clock.status in FITTING else ""
    said = (_says(clock, reference, unit), still, *shared)
    return Match(
        status=clock.status,
        says=" ".join(sentence for sentence in said if sentence),
        wrote=(_meter(reference), _meter(unit)),
        day=_day(reference) or _day(unit),
        firmware=unit.meter.firmware,
    )


def as_matched(ride: ListedRide, match: Match) -> ListedRide:
    """The ride with what its files tell of it, where the tester said nothing else."""
    return replace(ride, wrote=match.wrote, day=ride.day or match.day, firmware=ride.firmware or match.firmware)


def _day(recording: Recording) -> str:
    """The day of the first sample, in UTC; empty where the file has no date, or one that no ride can have."""
    if not recording.dated or not recording.time_s.size or recording.time_s[0] < EARLIEST_UTC_S:
        return ""
    return datetime.fromtimestamp(float(recording.time_s[0]), tz=UTC).date().isoformat()


def units_of(rides: Sequence[ListedRide], called: str, *, named: bool) -> dict[str, tuple[ListedRide, ...]]:
    """The rides by the unit they are of: all of ``called`` where that was ``named``, or where one meter wrote them all;
    else each by the meter that wrote it.
    """
    meters = {ride.wrote[1] for ride in rides}
    if named or len(meters) < 2:
        return {called: tuple(rides)}
    units: dict[str, list[ListedRide]] = {}
    for ride in rides:
        units.setdefault(ride.wrote[1] or called, []).append(ride)
    return {unit: tuple(mine) for unit, mine in units.items()}


def match_lone(arguments: Sequence[str], *, progress: Progress = lambda _: None) -> list[tuple[str, str, Match]]:
    """Pairs among recordings without a partner whose efforts are one, whatever their times and names say.

    Each is in one pair at most, the surest first. None are looked for among more than a dozen recordings.
    """
    if not 2 <= len(arguments) <= MOST_LONE:
        return []
    pairs = [ListedRide(name="", reference=one, unit=other) for one, other in combinations(arguments, 2)]
    tried = zip(pairs, match_rides(pairs, progress=progress), strict=True)
    fitting = [(pair, match) for pair, match in tried if match.status in FITTING]
    fitting.sort(key=lambda found: FITTING.index(found[1].status or ClockStatus.FOUND))
    taken: set[str] = set()
    found = []
    for pair, match in fitting:
        if {pair.reference, pair.unit} & taken:
            continue
        taken |= {pair.reference, pair.unit}
        says = f"Their times and names do not say that they are of one ride; their efforts do. {match.says}"
        found.append((pair.reference, pair.unit, replace(match, says=says)))
    return found


def _says(clock: ClockFit, reference: Recording, unit: Recording) -> str:
    if clock.status in FITTING:
        offset_s = clock.offset_s.value
        if offset_s is None or not math.isfinite(offset_s):
            return "The efforts match."
        if not (reference.dated and unit.dated):
            return "The efforts match; a file without a date starts at its own zero."
        side = "behind" if offset_s > 0 else "ahead of"
        apart = "on" if abs(offset_s) < 0.05 else f"{_duration(abs(offset_s))} {side}"
        return f"The efforts match; the unit's clock is {apart} the reference's."
    if clock.status is ClockStatus.AMBIGUOUS and one_number_words(reference, unit):
        return one_number_words(reference, unit)
    if clock.status is ClockStatus.AMBIGUOUS:
        return "The efforts match at several offsets: the ride may be too even to tell, and will need one by hand."
    if clock.status is ClockStatus.SAME_SOURCE:
        return "These are two exports of one recording, and nothing can be learnt from them."
    return "The efforts do not match: these may be different rides."


def _duration(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.1f} s"
    return f"{seconds / 60:.1f} min" if seconds < 7200 else f"{seconds / 3600:.2f} h"


def _meter(recording: Recording) -> str:
    return " ".join(f"{recording.meter.maker} {recording.meter.product}".split())
