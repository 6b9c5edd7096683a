"""Files damaged at random: nothing but a sentence may come out, and what comes out is sound."""

from __future__ import annotations

import warnings

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.unit.readers.fit_bytes import (
    APPLICATION,
    RECORD,
    START,
    UINT16,
    UINT32,
    data,
    definition,
    developer_field,
    file_id,
    fit_file,
    powers,
    timer,
)
from tests.unit.readers.test_xml import gpx, tcx_powers, track_point
from wattwitness.model.errors import WattwitnessError
from wattwitness.readers.fit import READER as FIT
from wattwitness.readers.gpx import READER as GPX
from wattwitness.readers.reader import FileHead, OpenedFile, Reader
from wattwitness.readers.registry import READERS
from wattwitness.readers.tcx import READER as TCX


def sample_fit() -> bytes:
    body = file_id() + timer(START, 0) + powers(range(150, 180)) + APPLICATION + developer_field(3, b"power", b"W")
    body += definition(1, RECORD, [(253, 4, UINT32), (7, 2, UINT16)], developer=[(3, 2, 0)])
    body += b"".join(data(1, "IHH", START + 40 + i, 200 + i, 190 + i) for i in range(20))
    whole = fit_file(body + timer(START + 70, 4))
    return whole + fit_file(file_id(created=START + 900) + powers([100] * 10, start=START + 900), long_header=False)


SAMPLES = {
    FIT.name: sample_fit(),
    TCX.name: tcx_powers(list(range(150, 170))),
    GPX.name: gpx("".join(track_point(i, f"<power>{150 + i}</power>") for i in range(20))),
}

changes = st.lists(
    st.tuples(
        st.sampled_from(["set", "delete", "insert", "repeat"]),
        st.floats(0, 1, exclude_max=True),
        st.integers(1, 12),
        st.binary(min_size=1, max_size=8),
    ),
    min_size=1,
    max_size=8,
)


def damaged(content: bytes, faults: list[tuple[str, float, int, bytes]]) -> bytes:
    out = bytearray(content)
    for kind, place, length, filling in faults:
        at = int(place * (len(out) or 1))
        if kind == "set":
            out[at : at + len(filling)] = filling
        elif kind == "delete":
            del out[at : at + length]
        elif kind == "insert":
            out[at:at] = filling
        else:
            out[at:at] = out[at : at + 20 * length]
    return bytes(out)


def check_sentence(error: WattwitnessError) -> None:
    assert error.what.endswith(".")
    assert error.hint.endswith(".")


def read_or_refuse(reader: Reader, content: bytes) -> None:
    opened = OpenedFile(file_name="ride", sha256="", size_bytes=len(content), content=content)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            recordings = reader.read(opened)
        except WattwitnessError as error:
            check_sentence(error)
            return
    assert recordings
    assert [recording.source.part for recording in recordings] == list(range(1, len(recordings) + 1))
    for recording in recordings:
        assert recording.channels
        assert recording.time_s.size
        for values in recording.channels.values():
            assert np.any(np.isfinite(values))
            assert not np.any(np.isinf(values))
        for notice in recording.notices:
            assert notice.message.isprintable()


FUZZ = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@FUZZ
@given(st.sampled_from(sorted(SAMPLES)), changes)
def test_damaged_files_are_read_or_refused(name: str, faults: list[tuple[str, float, int, bytes]]) -> None:
    read_or_refuse(READERS.get(name), damaged(SAMPLES[name], faults))


@FUZZ
@given(st.binary(max_size=300))
def test_noise_behind_a_sound_header_is_read_or_refused(body: bytes) -> None:
    read_or_refuse(FIT, fit_file(body))
    read_or_refuse(FIT, fit_file(powers([100] * 3) + body))


@FUZZ
@given(st.binary(max_size=200), st.binary(max_size=40))
def test_noise_is_sniffed_without_complaint(noise: bytes, other: bytes) -> None:
    for content in (noise, b"<" + noise, noise[:8] + b".FIT" + other, b"\xff\xfe" + noise):
        head = FileHead(file_name="ride", first_bytes=content, complete=True)
        assert all(reader.sniff(head) in (True, False) for reader in READERS)


@given(st.integers(0, len(SAMPLES["fit"])))
@settings(max_examples=60, deadline=None)
def test_every_cut_of_a_fit_file_is_read_or_refused(length: int) -> None:
    read_or_refuse(FIT, SAMPLES["fit"][:length])
