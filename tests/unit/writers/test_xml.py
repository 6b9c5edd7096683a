"""TCX and GPX as lxml and the schemas' element order have them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from tests.unit.writers.rides import awkward, with_channels
from wattwitness.model.errors import NoSamples
from wattwitness.model.recording import ChannelName
from wattwitness.writers.gpx import write_gpx
from wattwitness.writers.tcx import write_tcx

TCX = {
    "t": "http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2",
    "e": "http://www.garmin.com/xmlschemas/ActivityExtension/v2",
}
GPX = {
    "g": "http://www.topografix.com/GPX/1/1",
    "e": "http://www.garmin.com/xmlschemas/TrackPointExtension/v2",
}
HOSTILE = 'bike <B> & "pedals" ]]> \x00\x1b\ud800 é'
PLAIN = 'bike <B> & "pedals" ]]>  é'


def texts(node: etree._Element, path: str, names: dict[str, str]) -> list[str]:
    return [str(found.text) for found in node.findall(path, names)]


def test_tcx_holds_what_it_can(tmp_path: Path) -> None:
    ride = awkward()
    write_tcx(ride, tmp_path / "a.tcx")
    root = etree.parse(tmp_path / "a.tcx").getroot()
    points = root.findall(".//t:Trackpoint", TCX)
    assert len(points) == 20
    for channel, path in (
        (ChannelName.POWER, "t:Extensions/e:TPX/e:Watts"),
        (ChannelName.CADENCE, "t:Cadence"),
        (ChannelName.HEART_RATE, "t:HeartRateBpm/t:Value"),
        (ChannelName.SPEED, "t:Extensions/e:TPX/e:Speed"),
    ):
        found = [float(point.findtext(path, "nan", TCX)) for point in points]
        np.testing.assert_array_equal(found, ride.channels[channel], err_msg=path)
    assert texts(root, ".//t:Id", TCX) == ["2026-01-12T10:00:00Z"]
    assert texts(root, ".//t:Trackpoint/t:Time", TCX)[19] == "2026-01-12T10:00:49Z"
    assert [len(track) for track in root.findall(".//t:Track", TCX)] == [10, 10]
    # The order that the schema's sequence asks for (read from the schema's element names, from memory).
    order = [etree.QName(child).localname for child in points[9]]
    assert order == ["Time", "HeartRateBpm", "Cadence", "Extensions"]
    assert texts(root, ".//t:Creator/t:Name", TCX) == ["studio bike B"]
    assert texts(root, ".//t:Creator/t:Version/*", TCX) == ["1", "4"]


def test_gpx_holds_what_it_can(tmp_path: Path) -> None:
    ride = awkward()
    write_gpx(ride, tmp_path / "a.gpx")
    root = etree.parse(tmp_path / "a.gpx").getroot()
    points = root.findall(".//g:trkpt", GPX)
    for channel, path in (
        (ChannelName.POWER, "g:extensions/g:power"),
        (ChannelName.CADENCE, "g:extensions/e:TrackPointExtension/e:cad"),
        (ChannelName.HEART_RATE, "g:extensions/e:TrackPointExtension/e:hr"),
        (ChannelName.TEMPERATURE, "g:extensions/e:TrackPointExtension/e:atemp"),
        (ChannelName.SPEED, "g:extensions/e:TrackPointExtension/e:speed"),
    ):
        found = [float(point.findtext(path, "nan", GPX)) for point in points]
        np.testing.assert_array_equal(found, ride.channels[channel], err_msg=path)
    assert {(point.get("lat"), point.get("lon")) for point in points} == {("0", "0")}
    assert [len(segment) for segment in root.findall(".//g:trkseg", GPX)] == [10, 10]
    assert root.get("creator") == "studio bike B"


@pytest.mark.parametrize("write", [write_tcx, write_gpx])
def test_a_hostile_name_stays_a_name(write: object, tmp_path: Path) -> None:
    assert callable(write)
    write(awkward(product=HOSTILE), tmp_path / "a.xml")
    root = etree.parse(tmp_path / "a.xml").getroot()
    assert PLAIN in {str(node.text) for node in root.iter()}


def test_parts_of_a_second_are_kept(tmp_path: Path) -> None:
    write_gpx(awkward(step_s=0.25), tmp_path / "a.gpx")
    root = etree.parse(tmp_path / "a.gpx").getroot()
    assert texts(root, ".//g:time", GPX)[:3] == [
        "2026-01-12T10:00:00.000Z",
        "2026-01-12T10:00:00.250Z",
        "2026-01-12T10:00:00.500Z",
    ]


@pytest.mark.parametrize("write", [write_tcx, write_gpx])
def test_a_format_that_can_hold_nothing_of_it_refuses(write: object, tmp_path: Path) -> None:
    assert callable(write)
    torque_only = with_channels(awkward(), {ChannelName.TORQUE: [20.0, 21.0]})
    with pytest.raises(NoSamples):
        write(torque_only, tmp_path / "a.xml")


def test_without_a_product_the_label_names_it(tmp_path: Path) -> None:
    write_tcx(awkward(product=""), tmp_path / "a.tcx")
    assert texts(etree.parse(tmp_path / "a.tcx").getroot(), ".//t:Creator/t:Name", TCX) == ["bike"]
