"""Real files by other people: what each is said to hold (README of the folder of recordings) must come out.

Counts stated there: 402 duplicates and a 301 s gap, 24 duplicates and 25 skipped seconds, 87 missing power samples, two
timer pauses, 755 packed time stamps, 33 s with power, 14 records in the small damaged ones. The rest was read off.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers.reading import RECORDINGS, needs_recordings, slugs
from wattwitness.model.recording import ChannelName, Recording, Severity
from wattwitness.readers.open import read_recordings
from wattwitness.workflows.inspect import inspect_file, inspect_recording

pytestmark = needs_recordings

POWER, CADENCE, HEART, SPEED, SHARE = (
    ChannelName.POWER,
    ChannelName.CADENCE,
    ChannelName.HEART_RATE,
    ChannelName.SPEED,
    ChannelName.LEFT_SHARE,
)


@dataclass(frozen=True, kw_only=True)
class Held:
    """What a file of one recording holds: samples, channels with their counts, notices with theirs."""

    samples: int
    channels: dict[ChannelName, int]
    notices: dict[str, int | None]
    step_s: float = 1.0
    event_driven: bool = False
    pauses: int = 0
    gaps_s: tuple[float, ...] = ()
    dated: bool = True


FILES = {
    "pair-indoor-pedals.fit": Held(
        samples=3161, channels={POWER: 3161 - 87, HEART: 3161, SHARE: 3007}, notices={"power_missing": 87}, pauses=1
    ),
    "pair-indoor-trainer.fit": Held(
        samples=3168, channels={POWER: 3168, CADENCE: 3168, HEART: 3168}, notices={}, gaps_s=(15,)
    ),
    "pair-pauses-headunit.fit": Held(
        samples=327, channels={CADENCE: 327, HEART: 327}, notices={}, step_s=8, event_driven=True, pauses=2
    ),
    "pair-pauses-app.fit": Held(samples=2599, channels={POWER: 2599, CADENCE: 2599, HEART: 2599}, notices={}),
    "fit-indoor-left-right.fit": Held(samples=3675, channels={POWER: 3675, CADENCE: 3675, SHARE: 3639}, notices={}),
    "fit-missing-power.fit": Held(
        samples=2263, channels={POWER: 2222, HEART: 2263}, notices={"power_missing": 41}, gaps_s=(2,)
    ),
    "fit-bad-crc.fit": Held(samples=14, channels={SPEED: 14}, notices={"checksum_wrong": None}),
    "fit-chained-corrupt-header.fit": Held(samples=14, channels={SPEED: 14}, notices={"unreadable_bytes": None}),
    "fit-truncated.fit": Held(samples=14, channels={SPEED: 14}, notices={"truncated": None}),
    "fit-duplicate-times.fit": Held(
        samples=3050 - 402,
        channels={POWER: 3050 - 402},
        notices={"duplicate_times": 402, "implausible_values": 3050},
        gaps_s=(301,),
    ),
    "fit-every-3-s.fit": Held(samples=191, channels={POWER: 191, HEART: 191, CADENCE: 190}, notices={}, step_s=3),
    "fit-unterminated-strings.fit": Held(samples=33, channels={POWER: 31}, notices={"power_missing": 2}),
    "fit-big-endian-developer-field.fit": Held(
        samples=739 - 24,
        channels={POWER: 739 - 24, CADENCE: 739 - 24},
        notices={"duplicate_times": 24, "no_value_codes": 739},
        gaps_s=(2,) * 25,
    ),
    "fit-compressed-times.fit": Held(
        samples=755,
        channels={HEART: 754, CADENCE: 753, SPEED: 754},
        notices={"undated": None},
        step_s=5,
        pauses=1,
        dated=False,
    ),
    "tcx-console-a.tcx": Held(samples=1878, channels={CADENCE: 1878, HEART: 1866}, notices={"no_value_codes": 12}),
    "tcx-malformed-prefix.tcx": Held(
        samples=41, channels={POWER: 41, HEART: 41, CADENCE: 41}, notices={"malformed_xml": None}, step_s=2.216
    ),
    "tcx-rower.tcx": Held(
        samples=115, channels={POWER: 110}, notices={"power_missing": 5, "value_unreadable": 1}, step_s=2.782
    ),
}


def only(name: str) -> Recording:
    (recording,) = read_recordings(RECORDINGS / name)
    return recording


@pytest.mark.parametrize("name", FILES)
def test_real_file_holds_what_it_is_said_to_hold(name: str) -> None:
    held, recording = FILES[name], only(name)
    assert recording.time_s.size == held.samples
    assert recording.dated is held.dated
    assert recording.event_driven is held.event_driven
    assert recording.step_s == pytest.approx(held.step_s, abs=1e-3)
    for channel, count in held.channels.items():
        assert np.isfinite(recording.channels[channel]).sum() == count, channel
    assert slugs(recording) == held.notices
    found = inspect_recording(recording)
    assert len(found.pauses) == held.pauses
    if held.gaps_s:
        assert tuple(round(gap.length_s) for gap in found.gaps if gap.length_s >= min(held.gaps_s)) == held.gaps_s


def test_every_file_of_these_formats_is_held_to_account() -> None:
    there = {path.name for path in RECORDINGS.iterdir() if path.suffix in (".fit", ".tcx", ".gpx")}
    assert there == set(FILES) | {"fit-chained-bad-second-crc.fit"}


def test_chain_with_a_bad_second_checksum_gives_both_parts_and_says_which_is_doubtful() -> None:
    first, second = read_recordings(RECORDINGS / "fit-chained-bad-second-crc.fit")
    assert (first.time_s.size, second.time_s.size) == (14, 14)
    assert slugs(first) == {}
    assert slugs(second) == {"checksum_wrong": None}


def test_timer_pauses_of_the_head_unit_are_where_the_file_says() -> None:
    pauses = inspect_file(RECORDINGS / "pair-pauses-headunit.fit").recordings[0].pauses
    assert [(pause.at_s, pause.length_s) for pause in pauses] == [(334, 68), (1605, 47)]


def test_indoor_pair_is_of_one_ride_and_balance_is_near_even() -> None:
    pedals, trainer = only("pair-indoor-pedals.fit"), only("pair-indoor-trainer.fit")
    assert abs(pedals.time_s[0] - trainer.time_s[0]) < 5
    assert np.nanmean(pedals.channels[SHARE]) == pytest.approx(50, abs=5)
    assert np.nanmean(pedals.channels[POWER]) == pytest.approx(np.nanmean(trainer.channels[POWER]), rel=0.05)


def test_serial_numbers_are_kept_from_view_unless_asked_for() -> None:
    path = RECORDINGS / "pair-indoor-pedals.fit"
    shown, asked = inspect_file(path), inspect_file(path, serial_numbers=True)
    serial = asked.recordings[0].meter.serial
    assert len(serial) > 5
    assert serial not in repr(shown)
    assert shown.recordings[0].meter.maker


@pytest.mark.parametrize("name", sorted(FILES))
def test_reading_alters_nothing_and_says_everything_in_sentences(name: str) -> None:
    path: Path = RECORDINGS / name
    before = path.read_bytes()
    for recording in read_recordings(path):
        assert recording.source.size_bytes == len(before)
        for notice in recording.notices:
            assert notice.message.endswith(".")
            assert notice.severity in Severity
    assert path.read_bytes() == before
