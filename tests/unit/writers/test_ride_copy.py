"""A ride copy gives back what was compared, to the last bit, and refuses to have been changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wattwitness.model.errors import CorruptFile, NoSamples, WattwitnessError
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Pause, Recording, Severity, Source
from wattwitness.readers.open import read_recordings
from wattwitness.readers.plausible import PLAUSIBLE
from wattwitness.readers.reader import OpenedFile
from wattwitness.readers.ride_copy import READER, same_samples
from wattwitness.writers.ride_copy import ride_copy

SOURCE = Source(file_name="anna.fit", sha256="ab" * 32, size_bytes=10, format_name="fit")


def recording(**changes: object) -> Recording:
    """A dated recording with a gap, a pause, and numbers that no short decimal holds."""
    made = Recording(
        source=SOURCE,
        time_s=np.array([1762160400.0, 1762160401.1, 1762160402.25, 1762160500.0]),
        dated=True,
        channels={
            ChannelName.POWER: np.array([200.0, 1 / 3, np.nan, 0.0]),
            ChannelName.TORQUE: np.array([-2.5, np.nan, 1e-9, 31.0]),
        },
        meter=MeterRecord(maker="Laboratory", product="Pair, 2", firmware="1.4", serial="NEVER"),
        pauses=(Pause(start_s=1762160403.5, end_s=1762160499.0),),
        notices=(
            Notice(
                slug="power_missing", message="1 of 4, =has | no power.", severity=Severity.NOTE, samples=1, about="x"
            ),
        ),
        label="the bike",
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def read_back(content: bytes) -> Recording:
    """Read a copy's bytes."""
    (copy,) = READER.read(OpenedFile(file_name="unit-1.csv", sha256="0" * 64, size_bytes=1, content=content))
    return copy


def test_everything_that_is_compared_comes_back() -> None:
    """Samples, times, pauses, flags, notices and what the file says of the meter; not its serial number or name."""
    made = recording()
    content = ride_copy(made)
    copy = read_back(content)
    assert same_samples(content, made)
    assert copy.meter == replace(made.meter, serial="")
    assert copy.label == "the bike"
    assert [(n.slug, n.message, n.severity, n.samples, n.about) for n in copy.notices] == [
        ("power_missing", "1 of 4, =has | no power.", Severity.NOTE, 1, "unit-1.csv")
    ]
    assert b"NEVER" not in content
    assert b"anna" not in content


@pytest.mark.parametrize("changes", [{"dated": False}, {"event_driven": True}, {"spot": True}, {"pauses": ()}], ids=str)
def test_a_difference_that_matters_is_seen(changes: dict[str, object]) -> None:
    """The check that the bundle makes of itself can fail, and each of these comes back right."""
    changed = recording(**changes)
    assert same_samples(ride_copy(changed), changed)
    assert not same_samples(ride_copy(recording()), changed)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_numbers_come_back_to_the_last_bit(data: st.DataObject) -> None:
    """Whatever a reader can make of a file."""
    size = data.draw(st.integers(1, 8))
    steps = data.draw(st.lists(st.floats(1e-3, 1e4), min_size=size, max_size=size))
    start = data.draw(st.floats(-1e6, 1.9e9))
    time_s = np.unique(start + np.cumsum(steps))
    channels = {}
    for name in data.draw(st.sets(st.sampled_from(list(ChannelName)), min_size=1)):
        rule = PLAUSIBLE[name]
        cells = st.one_of(st.just(float("nan")), st.floats(rule.low, rule.high))
        values = data.draw(st.lists(cells, min_size=time_s.size, max_size=time_s.size))
        channels[name] = np.array([0.5 * (rule.low + rule.high), *values[1:]])
    made = recording(time_s=time_s, channels=channels, pauses=(), dated=data.draw(st.booleans()))
    assert same_samples(ride_copy(made), made)


@pytest.mark.parametrize(
    "label", ["=1+1,2", "a;=cmd()", "@x", 'say "x", twice', "-3", "line\nbreak", "\u202eturned"], ids=repr
)
def test_no_label_becomes_a_formula_or_a_cell_of_its_own(label: str) -> None:
    """A line above the table is one quoted cell; a spreadsheet sees text that begins with a sign of no formula."""
    text = ride_copy(recording(label=label)).decode()
    (line,) = [line for line in text.splitlines() if "# label" in line]
    assert line.startswith('"# label: ')
    assert line.endswith('"')
    assert line.count('"') % 2 == 0
    assert read_back(text.encode()).pauses


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("power_w", "watts", "headings"),
        ("1762160402.25", "1762160401", "out of order"),
        ("1762160402.25", "soon", "no number"),
        ("# pause: 1762160403.5 to", "# pause: 1762160999 to", "no pause"),
        ("# times: seconds since", "# times: hours since", "none that a ride copy has"),
        ('"# event driven: no"\n', "", "event driven"),
        (",200,", ",200000,", "power values"),
        (",200,", ",200,7,", "cells"),
        ("# notice: note |", "# notice: loud |", "no notice"),
        ("# label", "# nonsense", "none that a ride copy has"),
    ],
)
def test_a_copy_that_was_changed_is_refused_with_its_place(old: str, new: str, what: str) -> None:
    """It never reads as something else."""
    text = ride_copy(recording()).decode()
    assert old in text
    with pytest.raises(CorruptFile, match=what):
        read_back(text.replace(old, new, 1).encode())


@pytest.mark.parametrize("content", [b"# ride copy 1\n", b"# ride copy 1\ntime_s,power_w\n"])
def test_a_copy_without_a_table_is_refused(content: bytes) -> None:
    """No table, or no line that says what the times are."""
    with pytest.raises(CorruptFile):
        read_back(content)


def test_a_copy_without_samples_is_refused() -> None:
    """Nothing is not a ride."""
    text = '# ride copy 1\n"# times: seconds after the file\'s own zero"\n"# event driven: no"\ntime_s,power_w\n'
    with pytest.raises(NoSamples):
        read_back(text.encode())


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_a_damaged_copy_is_refused_in_words_or_read(data: st.DataObject) -> None:
    """Whatever bytes are lost, put in or turned."""
    content = bytearray(ride_copy(recording()))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content) - 1))
        put = data.draw(st.one_of(st.binary(max_size=3), st.sampled_from([b'"', b",", b"\n", b"1e999", b"nan", b"#"])))
        content[at : at + data.draw(st.integers(0, 3))] = put
    try:
        copy = read_back(bytes(content))
    except WattwitnessError:
        return
    assert np.all(np.isfinite(copy.time_s))


def test_it_is_opened_like_any_other_file(tmp_path: Path) -> None:
    """By its content, whatever it is called."""
    path = tmp_path / "copy.csv"
    path.write_bytes(ride_copy(recording()))
    (copy,) = read_recordings(path)
    assert copy.source.format_name == "ride_copy"
