"""One ride of a bench as a page shows it: its lines as soon as they are read, then the answer.

What was read and compared is kept in memory for the few rides that were looked at last, so that a question about a
stretch or an offset is answered at once.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar, cast

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.originals import check_original
from wattwitness.bench.rides import KeptRide, rides_of
from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.clock.drawn import DrawnLine, drawn_lines
from wattwitness.clock.fit import fit_clock
from wattwitness.clock.grid import reference_samples, unit_samples
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.recording import Recording
from wattwitness.model.settings import CompareSettings
from wattwitness.readers.open import read_one
from wattwitness.workflows.bench_changes import MOST_OFFSET_S
from wattwitness.workflows.bench_studies import listed_ride
from wattwitness.workflows.compare import compare_recordings
from wattwitness.workflows.meters import Meters, read_meters
from wattwitness.workflows.own_names import under_its_own_name
from wattwitness.workflows.trial_offset import TrialOffset, trial_offset

MOST_OPEN = 6
Value = TypeVar("Value")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bout:
    """One bout of riding: the rides of the bench, one for each unit, that share one recording of the reference.

    The ride that was asked for comes first.
    """

    rides: tuple[KeptRide, ...]

    @property
    def asked(self) -> KeptRide:
        """The ride that was asked for."""
        return self.rides[0]


def bout_of(bench: Path, ride_id: int) -> Bout:
    """The bout that a ride belongs to. Raises UnknownName."""
    with catalogue(bench) as connection:
        everything = rides_of(connection, bench)
    asked = next((ride for ride in everything if ride.id == ride_id), None)
    if asked is None:
        raise UnknownName(
            f"There is no ride {ride_id} on the bench.",
            where=str(bench),
            hint="It may have been taken off: look there.",
        )
    others = [ride for ride in everything if ride.id != asked.id and _reference(ride) == _reference(asked)]
    return Bout(rides=(asked, *others))


def bout_settings(bout: Bout, settings: CompareSettings) -> CompareSettings:
    """The settings with what the tester said of this bout: offsets by hand, and stretches left out."""
    offsets = tuple(ride.noted.offset_s for ride in bout.rides)
    return replace(settings, offsets_s=offsets, stretches_out=bout.asked.noted.stretches_out)


class OpenRides:
    """Recordings, clocks and comparisons of the rides that were looked at last. Safe for several threads."""

    def __init__(self, bench: Path) -> None:
        self._bench = bench
        self._kept: OrderedDict[Hashable, object] = OrderedDict()
        self._locks: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def recording(self, ride: KeptRide, side: str) -> Recording:
        """The recording of the ``reference`` or the ``unit``, under the name it came with. Raises what reading does."""
        original = ride.files[side]

        def read() -> Recording:
            check_original(self._bench, original)
            listed = listed_ride(self._bench, ride)
            argument, mapping = listed.sides[side == "unit"]
            found = under_its_own_name(read_one(argument, mapping=mapping), original.file_name)
            return replace(found, label=ride.unit) if side == "unit" else found

        return self._once(("recording", original.sha256, ride.parts[side], _mapping(ride), side, ride.unit), read)

    def clock(self, ride: KeptRide, level: float) -> ClockFit:
        """The unit's clock against the reference's: by hand where the tester gave it, else as found."""
        reference, unit = self.recording(ride, "reference"), self.recording(ride, "unit")
        offset_s = ride.noted.offset_s
        if offset_s is not None:
            return clock_by_hand(unit, offset_s, level=level)
        return self._once(("clock", _made_of(ride), level), lambda: fit_clock(reference, unit, level=level))

    def shares_a_minute(self, ride: KeptRide, offset_s: float) -> bool:
        """Whether anything would be left to compare at an offset by hand. Raises SettingInvalid."""
        return not math.isnan(self._trial(ride, offset_s).bias_pct)

    def _trial(self, ride: KeptRide, offset_s: float) -> TrialOffset:
        if abs(offset_s) > MOST_OFFSET_S:
            raise SettingInvalid("The offset is far too large.", where="offset_s", hint="Give seconds.")
        return trial_offset(self.recording(ride, "reference"), self.recording(ride, "unit"), offset_s)

    def trial_sentence(self, ride: KeptRide, offset_s: float) -> str:
        """What an offset by hand would do to the bias, in a sentence. Raises SettingInvalid."""
        tried = self._trial(ride, offset_s)
        if math.isnan(tried.bias_pct):
            return "At this offset the two recordings share less than a minute with power."
        alike = "" if math.isnan(tried.agreement) else f", and the efforts agree to {100 * tried.agreement:.1f} %"
        side = "high" if tried.bias_pct > 0 else "low"
        return (
            f"At this offset {ride.unit} would read about {abs(tried.bias_pct):.1f} % {side} over "
            f"{tried.common_seconds} seconds{alike}."
        )

    def reference_lines(self, bout: Bout) -> tuple[DrawnLine, ...]:
        """What the reference recorded."""
        reference = self.recording(bout.asked, "reference")
        return drawn_lines(reference_samples(reference), event_driven=reference.event_driven, spot=reference.spot)

    def unit_lines(self, ride: KeptRide, level: float) -> tuple[DrawnLine, ...]:
        """What a unit recorded, on the reference's time; none where there is no one clock."""
        clock = self.clock(ride, level)
        if not clock.status.usable:
            return ()
        reference, unit = self.recording(ride, "reference"), self.recording(ride, "unit")
        placed = unit_samples(reference, unit, clock)
        return drawn_lines(placed, event_driven=unit.event_driven, spot=unit.spot)

    def comparison(self, bout: Bout, settings: CompareSettings) -> Comparison:
        """The whole answer, of every unit of the bout."""
        noted = tuple((_made_of(ride), repr(ride.noted), ride.files) for ride in bout.rides)
        key = ("comparison", repr(noted), repr(settings))

        def compare() -> Comparison:
            recordings = [self.recording(bout.asked, "reference")]
            recordings += [self.recording(ride, "unit") for ride in bout.rides]
            return compare_recordings(recordings, bout_settings(bout, settings), meters=self._meters(bout))

        return self._once(key, compare)

    def _meters(self, bout: Bout) -> Meters:
        listed = [listed_ride(self._bench, ride) for ride in bout.rides]
        return read_meters(listed[0].reference_meter, [ride.unit_meter for ride in listed], compared=len(listed))

    def _once(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """What is kept under ``key``, or made once however many ask at the same time."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return cast(Value, self._kept[key])
            lock = self._locks.setdefault(key, threading.Lock())
        with lock:
            with self._lock:
                if key in self._kept:
                    return cast(Value, self._kept[key])
            made = make()
            with self._lock:
                self._kept[key] = made
                self._locks.pop(key, None)
                while len(self._kept) > MOST_OPEN * 4:
                    self._kept.popitem(last=False)
        return made


def _reference(ride: KeptRide) -> tuple[str, int | None]:
    return ride.files["reference"].sha256, ride.parts["reference"]


def _mapping(ride: KeptRide) -> tuple[str, ...]:
    return tuple(f"{name} {one.sha256}" for name, one in sorted(ride.files.items()) if name.endswith("mapping"))


def _made_of(ride: KeptRide) -> tuple[object, ...]:
    return (*_reference(ride), ride.files["unit"].sha256, ride.parts["unit"], _mapping(ride))
