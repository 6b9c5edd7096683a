"""A meter's description: every key, and every way to get one wrong."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.errors import MeterFileInvalid
from wattwitness.model.setup import MeterFile, Place, Sides
from wattwitness.readers.meter_file import load_meter_file, parse_meter_file

WHOLE = """
name = "Laboratory pedals"
place = "pedal"
sides = "both"
[crank]
set_mm = 172.5
true_mm = 170
put_right = true
[setup]
zero_taken = false
firmware = "3.2"
battery_pct = 80
temperature_c = 22.5
zero_temperature_c = 19
warm_up_min = 15
hours_since_fitted = 12.5
[budget.claim]
half_width_pct = 1.0
distribution = "triangular"
origin = "claimed"
source = "data sheet"
common = true
[budget.zero]
standard_uncertainty_nm = 0.05
degrees = 9
"""


def test_every_key_arrives() -> None:
    meter = parse_meter_file(WHOLE, "pedals.toml")
    assert (meter.name, meter.source, meter.place, meter.sides) == (
        "Laboratory pedals",
        "pedals.toml",
        Place.PEDAL,
        Sides.BOTH,
    )
    assert (meter.setup.crank_set_mm, meter.setup.crank_true_mm, meter.put_right_crank) == (172.5, 170.0, True)
    assert meter.setup.zero_taken is False
    assert (meter.setup.battery_pct, meter.setup.warm_up_min, meter.setup.hours_since_fitted) == (80, 15, 12.5)
    claim, zero = meter.stated["claim"], meter.stated["zero"]
    assert (claim.half_width, claim.distribution, claim.origin) == (1.0, Distribution.TRIANGULAR, Origin.CLAIMED)
    assert (zero.standard_uncertainty, zero.degrees, zero.half_width) == (0.05, 9, None)


def test_nothing_on_record_is_not_taken_as_done() -> None:
    meter = parse_meter_file("")
    assert meter.setup == MeterFile().setup
    assert meter.setup.zero_taken is None
    assert meter.place is Place.UNKNOWN


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("plaice = 'pedal'", "“plaice” is no key or table"),
        ("place = 'saddle'", "place must be one of"),
        ("place = 3", "place must be one of"),
        ("name = 3", "name must be text"),
        ("crank = 172.5", "“crank” must be a table"),
        ("[crank]\nset = 172.5", "“set” is no key in [crank]"),
        ("[crank]\nset_mm = '172.5'", "[crank] set_mm must be a number from 80 to 250"),
        ("[crank]\nset_mm = 17.25", "[crank] set_mm must be a number from 80 to 250"),
        ("[crank]\nset_mm = true", "must be a number"),
        ("[crank]\nset_mm = nan", "must be a number"),
        ("[crank]\nput_right = true\nset_mm = 170", "needs set_mm and true_mm"),
        ("[setup]\nzero_taken = 'yes'", "must be true or false"),
        ("[setup]\nbattery_pct = 120", "from 0 to 100"),
        ("budget = 3", "“budget” must hold tables"),
        ("[budget]\nclaim = 1.0", "“budget.claim” must be a table"),
        ("[budget.clam]\nhalf_width_pct = 1", "“clam” is no contribution"),
        ("[budget.claim]\nhalf_width_nm = 1", "“half_width_nm” is no key in [budget.claim]"),
        ("[budget.claim]\nhalf_width_pct = -1", "from 0 to 50"),
        ("[budget.claim]\nhalf_width_pct = 1\nstandard_uncertainty_pct = 1", "both a half-width and"),
        ("[budget.claim]\nhalf_width_pct = 1\ndistribution = 'normal'", "which has none"),
        ("[budget.claim]\ndegrees = 0", "from 1 to"),
        ("[budget.claim]\norigin = 'guessed'", "must be one of"),
        ("[budget.claim", "not valid TOML"),
    ],
)
def test_what_is_wrong_is_named(text: str, said: str) -> None:
    with pytest.raises(MeterFileInvalid) as caught:
        parse_meter_file(text)
    assert said in caught.value.what


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(MeterFileInvalid, match="cannot be read"):
        load_meter_file(tmp_path / "none.toml")
    path = tmp_path / "meter.toml"
    path.write_bytes(b"name = '\xff'")
    with pytest.raises(MeterFileInvalid, match="not UTF-8"):
        load_meter_file(path)
    path.write_bytes(b"#" * 100_001)
    with pytest.raises(MeterFileInvalid, match="far too large"):
        load_meter_file(path)
    path.write_text(WHOLE, encoding="utf-8")
    assert load_meter_file(path).source == "meter.toml"


@given(st.text(max_size=200))
def test_no_text_does_more_than_be_refused(text: str) -> None:
    meter = MeterFile()
    with suppress(MeterFileInvalid):
        meter = parse_meter_file(text)
    assert not meter.put_right_crank
