"""TCX and GPX: dialects, times, parts, pauses, and XML that is malformed or hostile. All names are invented."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest

from tests.unit.readers.reading import read_bytes_as, slugs
from wattwitness.model.errors import CorruptFile, NoSamples, UnknownFormat, UnsafeXml
from wattwitness.model.recording import ChannelName, Pause
from wattwitness.readers import xml_points
from wattwitness.readers.iso_times import parse_iso_times
from wattwitness.readers.xml_head import root_name

TCX = "http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2"
TPX = "http://www.garmin.com/xmlschemas/ActivityExtension/v2"
T0 = 1_717_236_000.0
"""2024-06-01T10:00:00Z."""


def stamp(second: float) -> str:
    minutes, seconds = divmod(second, 60)
    return f"2024-06-01T10:{int(minutes):02d}:{seconds:06.3f}Z"


def point(second: float, inside: str) -> str:
    return f"<Trackpoint><Time>{stamp(second)}</Time>{inside}</Trackpoint>"


def tcx(points: str, declarations: str = "") -> bytes:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><TrainingCenterDatabase xmlns="{TCX}" {declarations}><Activities>'
        f'<Activity Sport="Biking"><Id>{stamp(0)}</Id><Lap StartTime="{stamp(0)}"><Track>{points}</Track></Lap>'
        "</Activity></Activities></TrainingCenterDatabase>"
    ).encode()


def tcx_powers(powers: list[int]) -> bytes:
    return tcx(
        "".join(
            point(i, f"<Extensions><TPX xmlns='{TPX}'><Watts>{w}</Watts></TPX></Extensions>")
            for i, w in enumerate(powers)
        )
    )


DIALECTS = {
    "ns2": (f"xmlns:ns2='{TPX}'", "<ns2:TPX><ns2:Watts>{}</ns2:Watts><ns2:Speed>8.5</ns2:Speed></ns2:TPX>"),
    "ns3": (f"xmlns:ns3='{TPX}'", "<ns3:TPX><ns3:Speed>8.5</ns3:Speed><ns3:Watts>{}</ns3:Watts></ns3:TPX>"),
    "tpx": (f"xmlns:tpx='{TPX}'", "<tpx:TPX><tpx:Watts>{}</tpx:Watts><tpx:Speed>8.5</tpx:Speed></tpx:TPX>"),
    "any": (f"xmlns:zz9='{TPX}'", "<zz9:TPX><zz9:Watts> {} </zz9:Watts><zz9:Speed>8.5</zz9:Speed></zz9:TPX>"),
    "local": ("", f"<TPX xmlns='{TPX}'>" + "<Watts>{}</Watts><Speed>8.5</Speed></TPX>"),
    "none": ("", "<TPX><Watts>{}</Watts><Speed>8.5</Speed></TPX>"),
    "unbound": ("", "<ns3:TPX><ns3:Watts>{}</ns3:Watts><ns3:Speed>8.5</ns3:Speed></ns3:TPX>"),
}


@pytest.mark.parametrize("dialect", DIALECTS)
def test_power_under_any_prefix(tmp_path: Path, dialect: str) -> None:
    declarations, extension = DIALECTS[dialect]
    points = "".join(
        point(
            i + 0.25,
            "<HeartRateBpm><Value>131</Value></HeartRateBpm><Cadence>84</Cadence><DistanceMeters>9</DistanceMeters>"
            f"<Extensions>{extension.format(200 + i)}</Extensions>",
        )
        for i in range(4)
    )
    (recording,) = read_bytes_as(tmp_path, tcx(points, declarations), "ride.tcx")
    np.testing.assert_allclose(recording.time_s, T0 + 0.25 + np.arange(4), atol=1e-6)
    expected = {
        ChannelName.POWER: [200, 201, 202, 203],
        ChannelName.CADENCE: [84] * 4,
        ChannelName.HEART_RATE: [131] * 4,
        ChannelName.SPEED: [8.5] * 4,
    }
    assert set(recording.channels) == set(expected)
    for name, values in expected.items():
        np.testing.assert_array_equal(recording.channels[name], values)
    assert set(slugs(recording)) == ({"malformed_xml"} if dialect == "unbound" else set())


def test_steps_of_a_runner_are_no_cadence_of_cranks(tmp_path: Path) -> None:
    points = "".join(
        point(i, "<Extensions><TPX><RunCadence>88</RunCadence><Watts>200</Watts></TPX></Extensions>") for i in range(3)
    )
    (recording,) = read_bytes_as(tmp_path, tcx(points), "ride.tcx")
    assert set(recording.channels) == {ChannelName.POWER}


def test_summary_of_a_lap_is_no_sample(tmp_path: Path) -> None:
    content = tcx_powers([200, 201]).replace(
        b"</Track>", b"</Track><Extensions><LX><Watts>999</Watts><AvgWatts>777</AvgWatts></LX></Extensions>"
    )
    (recording,) = read_bytes_as(tmp_path, content, "ride.tcx")
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [200, 201])


def test_missing_power_stays_missing(tmp_path: Path) -> None:
    points = point(0, "<Watts>200</Watts>") + point(1, "<Cadence>80</Cadence>") + point(2, "<Watts>0</Watts>")
    (recording,) = read_bytes_as(tmp_path, tcx(points), "ride.tcx")
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [200, np.nan, 0])


def test_decimal_commas_are_read_and_doubtful_numbers_missing(tmp_path: Path) -> None:
    texts = ["215,5", "1,234", "n/a", "215.25", "2e2"]
    points = "".join(point(i, f"<Watts>{text}</Watts><Cadence>80</Cadence>") for i, text in enumerate(texts))
    (recording,) = read_bytes_as(tmp_path, tcx(points), "ride.tcx")
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [215.5, np.nan, np.nan, 215.25, 200])
    assert slugs(recording)["value_unreadable"] == 2


def test_stretch_between_tracks_and_laps_is_a_pause_and_a_lap_without_one_is_none(tmp_path: Path) -> None:
    def run(start: int) -> str:
        return "".join(point(start + i, "<Watts>200</Watts>") for i in range(10))

    lap = f'</Track></Lap><Lap StartTime="{stamp(0)}"><Track>'
    (recording,) = read_bytes_as(
        tmp_path, tcx(run(0) + "</Track><Track>" + run(50) + lap + run(60) + lap + run(100)), "ride.tcx"
    )
    assert recording.pauses == (Pause(start_s=T0 + 9, end_s=T0 + 50), Pause(start_s=T0 + 69, end_s=T0 + 100))


def test_two_activities_are_two_recordings(tmp_path: Path) -> None:
    second = "</Track></Lap></Activity><Activity><Id>second</Id><Lap><Track>"
    content = tcx(point(0, "<Watts>200</Watts>") + second + point(500, "<Watts>250</Watts>"))
    recordings = read_bytes_as(tmp_path, content, "ride.tcx")
    assert [(r.source.part, r.channels[ChannelName.POWER][0]) for r in recordings] == [(1, 200), (2, 250)]
    assert len({r.source.part_label for r in recordings}) == 2


def test_recorder_is_named_as_the_file_says(tmp_path: Path) -> None:
    creator = (
        b"<Creator><Name>Laboratory logger</Name><UnitId>77</UnitId><Version><VersionMajor>3</VersionMajor>"
        b"<VersionMinor>12</VersionMinor></Version></Creator></Activity>"
    )
    author = b"</Activities><Author><Name>an exporter</Name></Author>"
    content = tcx_powers([200, 210]).replace(b"</Activity>", creator).replace(b"</Activities>", author)
    (recording,) = read_bytes_as(tmp_path, content, "ride.tcx")
    meter = recording.meter
    assert (meter.product, meter.firmware, meter.serial) == ("Laboratory logger", "3.12", "77")


GPX_POINTS = {
    "extension 1": "<extensions><power>{w}</power><gpxtpx:TrackPointExtension><gpxtpx:hr>131</gpxtpx:hr>"
    "<gpxtpx:cad>84</gpxtpx:cad><gpxtpx:atemp>21</gpxtpx:atemp></gpxtpx:TrackPointExtension></extensions>",
    "extension 2": "<extensions><pwr:PowerInWatts xmlns:pwr='urn:power'>{w}</pwr:PowerInWatts><hr>131</hr>"
    "<cadence>84</cadence><temp>21</temp></extensions>",
    "extension 3": "<extensions><x:watts xmlns:x='urn:x'>{w}</x:watts><x:heartrate xmlns:x='urn:x'>131</x:heartrate>"
    "<x:cad xmlns:x='urn:x'>84</x:cad><x:temperature xmlns:x='urn:x'>21</x:temperature></extensions>",
}


def gpx(points: str) -> bytes:
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="an exporter" xmlns="http://www.topografix.com/GPX/1/1" '
        f'xmlns:gpxtpx="urn:tpx"><metadata><time>{stamp(0)}</time></metadata><trk><name>ride</name><trkseg>{points}'
        "</trkseg></trk></gpx>"
    ).encode()


def track_point(second: float, inside: str) -> str:
    return f'<trkpt lat="1.5" lon="2.5"><ele>3.5</ele><time>{stamp(second)}</time>{inside}</trkpt>'


@pytest.mark.parametrize("dialect", GPX_POINTS)
def test_gpx_extensions_and_no_positions(tmp_path: Path, dialect: str) -> None:
    points = "".join(track_point(i, GPX_POINTS[dialect].format(w=200 + i)) for i in range(3))
    (recording,) = read_bytes_as(tmp_path, gpx(points), "ride.gpx")
    np.testing.assert_array_equal(recording.time_s, T0 + np.arange(3))
    assert {name: float(values[-1]) for name, values in recording.channels.items()} == {
        ChannelName.POWER: 202,
        ChannelName.HEART_RATE: 131,
        ChannelName.CADENCE: 84,
        ChannelName.TEMPERATURE: 21,
    }
    assert recording.meter.product == "an exporter"
    assert recording.notices == ()


def test_stretch_between_gpx_segments_is_a_pause(tmp_path: Path) -> None:
    first = "".join(track_point(i, "<power>200</power>") for i in range(10))
    second = "".join(track_point(60 + i, "<power>200</power>") for i in range(10))
    (recording,) = read_bytes_as(tmp_path, gpx(first + "</trkseg><trkseg>" + second), "ride.gpx")
    assert recording.pauses == (Pause(start_s=T0 + 9, end_s=T0 + 60),)


def test_route_without_times_holds_no_samples(tmp_path: Path) -> None:
    with pytest.raises(NoSamples):
        read_bytes_as(tmp_path, gpx('<trkpt lat="1" lon="2"><power>200</power></trkpt>'), "route.gpx")
    with pytest.raises(NoSamples):
        read_bytes_as(tmp_path, gpx(""), "empty.gpx")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2024-06-01T10:00:00Z", T0),
        ("2024-06-01T12:00:00+02:00", T0),
        ("2024-06-01T10:00:00.5Z", T0 + 0.5),
        ("2024-06-01T10:00:00.123456789Z", T0 + 0.123456),
        ("2024-06-01T04:30:00-0530", T0),
        ("2024-06-01 10:00:00", T0),
    ],
)
def test_times_with_fractions_and_zones(text: str, expected: float) -> None:
    times = parse_iso_times([text])
    assert times.time_s[0] == pytest.approx(expected, abs=1e-6)
    assert times.without_zone == int(text.endswith("00") and " " in text)


def test_unreadable_times_are_counted_and_their_points_left_out(tmp_path: Path) -> None:
    content = tcx_powers([200, 201, 202]).replace(stamp(1).encode(), b"+052870-03-11T09:39:10Z")
    (recording,) = read_bytes_as(tmp_path, content, "ride.tcx")
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [200, 202])
    assert slugs(recording)["time_unreadable"] == 1


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-32"])
def test_encodings_with_and_without_a_mark(tmp_path: Path, encoding: str) -> None:
    text = tcx_powers([200, 210, 220]).decode().replace('encoding="UTF-8"', "")
    (recording,) = read_bytes_as(tmp_path, text.encode(encoding), "ride.tcx")
    np.testing.assert_array_equal(recording.channels[ChannelName.POWER], [200, 210, 220])


def test_file_cut_off_keeps_the_points_before(tmp_path: Path) -> None:
    content = tcx_powers(list(range(100, 200)))
    (recording,) = read_bytes_as(tmp_path, content[: len(content) // 2], "ride.tcx")
    power = recording.channels[ChannelName.POWER]
    np.testing.assert_array_equal(power, 100 + np.arange(power.size))
    assert power.size > 45
    assert set(slugs(recording)) & {"truncated", "malformed_xml"}


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"<Id>", b"<Notes>Tests & measurements, bike < 4</Notes><Id>"),
        (b"<Watts>105", b"<Watts>\0\0105"),
        (b"</Activities>", b""),
        (b"<Id>", b"<Id>\xff\xfe"),
    ],
)
def test_malformed_xml_is_recovered_and_said(tmp_path: Path, before: bytes, after: bytes) -> None:
    content = tcx_powers(list(range(100, 140)))
    assert before in content
    (recording,) = read_bytes_as(tmp_path, content.replace(before, after, 1), "ride.tcx")
    assert recording.time_s.size >= 38
    assert set(slugs(recording)) & {"malformed_xml", "truncated"}


ENTITIES = "".join(f'<!ENTITY e{i + 1} "{f"&e{i};" * 10}">' for i in range(9))
BOMB = f'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY e0 "lol">{ENTITIES}]>'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "utf-32"])
@pytest.mark.parametrize("body", ["<x>&e9;</x>", tcx_powers([200]).decode().split("?>", 1)[1], '<gpx a="&e9;"/>'])
def test_entity_bomb_is_refused_whatever_its_encoding_and_root(tmp_path: Path, encoding: str, body: str) -> None:
    with pytest.raises(UnsafeXml) as caught:
        read_bytes_as(tmp_path, (BOMB + body).encode(encoding), "ride.tcx")
    assert "entities" in caught.value.what


def test_entity_behind_a_long_comment_is_refused(tmp_path: Path) -> None:
    content = f'<?xml version="1.0"?><!--{"x" * 200_000}--><!DOCTYPE gpx [<!ENTITY e SYSTEM "file:///etc/hostname">]>'
    with pytest.raises(UnsafeXml):
        read_bytes_as(tmp_path, (content + "<gpx>&e;</gpx>").encode(), "ride.gpx")


def test_entity_hidden_by_an_odd_encoding_is_not_unfolded(tmp_path: Path) -> None:
    hidden = '<?xml version="1.0" encoding="UTF-7"?>' + '+ADwAIQ-DOCTYPE gpx [+ADwAIQ-ENTITY e "999">]>'
    content = hidden.encode() + gpx(track_point(0, "<power>&e;</power>") + track_point(1, "<power>200</power>"))[21:]
    try:
        (recording,) = read_bytes_as(tmp_path, content, "ride.gpx")
    except (UnknownFormat, NoSamples, CorruptFile):
        return
    assert 999 not in recording.channels[ChannelName.POWER]


def test_document_type_without_entities_is_harmless(tmp_path: Path) -> None:
    content = gpx(track_point(0, "<power>200</power>")).replace(
        b"<gpx ", b'<!DOCTYPE gpx SYSTEM "http://invalid.invalid/gpx.dtd"><gpx ', 1
    )
    (recording,) = read_bytes_as(tmp_path, content, "ride.gpx")
    assert recording.channels[ChannelName.POWER][0] == 200


def test_endless_nesting_is_refused_with_little_memory(tmp_path: Path) -> None:
    content = b"<gpx>" + b"<a>" * 3_000_000
    (tmp_path / "ride.gpx").write_bytes(content)
    tracemalloc.start()
    try:
        with pytest.raises(CorruptFile) as caught:
            read_bytes_as(tmp_path, content, "ride.gpx")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert "nested" in caught.value.what
    assert peak < 6 * len(content)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<gpx>" + b"".join(b"<a%d/>" % i for i in range(5000)) + b"</gpx>", "kinds of elements"),
        (b"<gpx " + b" ".join(b'a%d="1"' % i for i in range(20_000)) + b"/>", "tag of more than"),
    ],
    ids=["kinds", "attributes"],
)
def test_xml_like_no_recording_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(CorruptFile) as caught:
        read_bytes_as(tmp_path, content, "ride.gpx")
    assert words in caught.value.what


def test_file_of_brackets_is_refused_with_little_memory(tmp_path: Path) -> None:
    content = b"<gpx>" + b"< " * 2_000_000 + b"</gpx>"
    tracemalloc.start()
    try:
        with pytest.raises(NoSamples):
            read_bytes_as(tmp_path, content, "ride.gpx")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 6 * len(content)


def test_file_of_more_points_than_a_ride_has_is_read_up_to_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xml_points, "POINT_LIMIT", 50)
    (recording,) = read_bytes_as(tmp_path, tcx_powers([200] * 60), "ride.tcx")
    assert recording.time_s.size == 50
    assert "too_many_samples" in slugs(recording)


def test_file_of_more_parts_than_a_ride_has_is_read_up_to_the_limit(tmp_path: Path) -> None:
    second = "</Track></Lap></Activity><Activity><Lap><Track>" + point(1, "<Watts>210</Watts>")
    recordings = read_bytes_as(tmp_path, tcx(point(0, "<Watts>200</Watts>") + second * 100), "ride.tcx")
    assert len(recordings) == 64
    assert "too_many_samples" in slugs(recordings[0])


def test_element_with_endless_text_costs_no_sample(tmp_path: Path) -> None:
    content = gpx(track_point(0, "<power>200</power><desc>" + "x" * 5_000_000 + "</desc>"))
    (recording,) = read_bytes_as(tmp_path, content, "ride.gpx")
    assert recording.channels[ChannelName.POWER][0] == 200


@pytest.mark.parametrize(
    ("head", "expected"),
    [
        (b"<gpx/>", "gpx"),
        (b"\xef\xbb\xbf <?xml version='1.0'?>\n<!-- <x> -->\n<a:gpx>", "gpx"),
        (b"<!DOCTYPE html><html>", "html"),
        (b"time,power\n1,<2>", None),
        (b"", None),
        (b"<", None),
    ],
)
def test_root_name(head: bytes, expected: str | None) -> None:
    assert root_name(head) == expected
