"""Worksheets, spot readings and meters as they are typed: the readers of their files check them, and read them back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.errors import MeterFileInvalid, SpotReadingInvalid, UnknownName, WorksheetInvalid
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side, Worksheet
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides, StatedUncertainty
from wattwitness.readers.meter_file import parse_meter_file
from wattwitness.readers.worksheet import parse_worksheet
from wattwitness.reference.ride_budget import meter_budget
from wattwitness.workflows.kept_texts import keep_text, original_called, texts_beginning
from wattwitness.workflows.meters_on_bench import described_by_form, form_of_meter
from wattwitness.workflows.spot_typed import text_of_paste, text_of_rows
from wattwitness.workflows.worksheets import CELLS, KEYS, form_of, typed_worksheet
from wattwitness.writers.meter_file import meter_toml
from wattwitness.writers.worksheet import worksheet_text

ANY_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
CLAIM = StatedUncertainty(
    half_width=1.0,
    distribution=Distribution.RECTANGULAR,
    origin=Origin.CLAIMED,
    source="data sheet",
    common=True,
)


def row(number: int, **cells: str) -> dict[str, str]:
    usual = {"side": "left", "position": "forward", "repeat": "1", "step": "up", "mass_kg": "10", "lever_mm": "170"}
    return {**dict.fromkeys(CELLS, ""), **usual, "angle_deg": "0", "reading_nm": "16.7", **cells, "row": str(number)}


def reading(mass_kg: float, reading_nm: float, step: LoadStep, *, position: str = "forward") -> HungReading:
    return HungReading(
        side=Side.LEFT,
        position=position,
        repeat=1,
        step=step,
        mass_kg=mass_kg,
        lever_mm=172.5 if mass_kg else 0.0,
        angle_deg=0.0,
        reading_nm=reading_nm,
    )


@given(
    masses=st.lists(st.floats(0.001, 400), min_size=1, max_size=6),
    shown=st.floats(-900, 900),
    latitude=st.one_of(st.none(), st.floats(-90, 90)),
)
@settings(max_examples=40, deadline=None)
def test_a_worksheet_is_read_back_as_it_was(masses: list[float], shown: float, latitude: float | None) -> None:
    rounded = [float(f"{mass:.12g}") for mass in masses]
    readings = (
        reading(0.0, 0.1, LoadStep.ZERO_BEFORE),
        *(reading(mass, float(f"{shown:.12g}"), LoadStep.UP) for mass in rounded),
    )
    latitude = None if latitude is None else float(f"{latitude:.12g}")
    sheet = Worksheet(meter="pedals", readings=readings, date="2026-01-12", latitude_deg=latitude)
    there = parse_worksheet(worksheet_text(sheet))
    assert [replace(one, line=0) for one in there.readings] == list(readings)
    assert (there.meter, there.date, there.latitude_deg) == ("pedals", "2026-01-12", latitude)


@given(position=ANY_TEXT, meter=ANY_TEXT)
@settings(max_examples=60, deadline=None)
def test_no_name_breaks_a_row_or_begins_a_formula(position: str, meter: str) -> None:
    """Whatever is typed as a name, the form's one reading is the sheet's one reading, kept and read back."""
    tidy = {"position": " ".join(position.split()), "meter": " ".join(meter.split())}
    sheet = typed_worksheet({"meter": tidy["meter"]}, [row(3, position=tidy["position"])])
    text = worksheet_text(sheet)
    (there,) = parse_worksheet(text).readings
    assert (there.mass_kg, there.reading_nm) == (10.0, 16.7)
    cells = text.splitlines()[-1].split(",")
    assert len(cells) == len(CELLS)
    assert not cells[1].startswith(("=", "+", "-", "@"))


def test_a_form_of_a_worksheet_gives_the_worksheet() -> None:
    readings = (reading(0.0, 0.1, LoadStep.ZERO_BEFORE), reading(10.25, 17.2, LoadStep.UP, position="second mounting"))
    keys, rows = form_of(Worksheet(meter="pedals", readings=readings, height_m=430.0))
    again = typed_worksheet(keys, [{**one, "row": str(place)} for place, one in enumerate(rows)])
    assert [(one.mass_kg, one.reading_nm, one.position) for one in again.readings] == [
        (0.0, 0.1, "forward"),
        (10.25, 17.2, "second mounting"),
    ]
    assert set(keys) == set(KEYS)
    assert again.height_m == 430.0


@pytest.mark.parametrize(
    ("rows", "where", "says"),
    [
        ([row(4), row(9, mass_kg="ten")], "mass_kg.9", "Row 2"),
        ([row(4, lever_mm="")], "lever_mm.4", "needs lever_mm"),
        ([row(4, step="zero_after")], "mass_kg.4", "unloaded, yet a mass is given"),
        ([row(4, repeat="one")], "repeat.4", "no whole number"),
        ([row(4, reading_nm="")], None, "No row has a reading"),
    ],
)
def test_a_mistake_is_said_of_its_row_and_field(rows: list[dict[str, str]], where: str | None, says: str) -> None:
    with pytest.raises(WorksheetInvalid) as caught:
        typed_worksheet({}, rows)
    assert caught.value.where == where
    assert says in caught.value.what


@given(note=ANY_TEXT)
@settings(max_examples=60, deadline=None)
def test_no_note_changes_a_spot_reading(note: str) -> None:
    rows = [{"at": "0:30", "shows_w": "148,5", "note": " ".join(note.split()), "row": "1"}]
    text = text_of_rows({}, [*rows, {"at": "0:45", "shows_w": "150", "row": "2"}])
    assert text.splitlines()[2].startswith("0:30,148.5,")
    assert text.splitlines()[3] == "0:45,150,"


@pytest.mark.parametrize(
    ("typed", "where", "says"),
    [
        ({"at": "1:00", "shows_w": "abc"}, "shows_w.7", "Row 3: “abc” under “shows (W)” is no reading"),
        ({"at": "1:00", "shows_w": "1.5.2"}, "shows_w.7", "Row 3: “1.5.2” under “shows (W)” is no reading"),
        ({"at": "1:00", "shows_w": "shows_w"}, "shows_w.7", "“shows_w” under “shows (W)”"),
        ({"at": "1:00", "shows_bpm": "-1"}, "shows_bpm.7", "“-1” under “shows (beats/min)” is no reading"),
        ({"at": "Line 99: x", "shows_w": "150"}, "at.7", "Row 3: “Line 99: x” is no time"),
        ({"at": "x. Line 4: y", "shows_w": "150"}, "at.7", "Row 3: “x. Line 4: y” is no time"),
    ],
)
def test_a_mistake_of_a_spot_reading_is_said_as_the_form_calls_it(typed: dict[str, str], where: str, says: str) -> None:
    rows = [{"at": "0:30", "shows_w": "148", "row": "1"}, {"at": "0:45", "shows_w": "150", "row": "2"}]
    with pytest.raises(SpotReadingInvalid) as caught:
        text_of_rows({}, [*rows, {**typed, "row": "7"}])
    assert caught.value.where == where
    assert says in caught.value.what


@pytest.mark.parametrize(
    ("pasted", "says"),
    [
        ("0:30, 148\n\n0:40, abc\n", "Line 3: “abc” under “shows (W)” is no reading"),
        ("at,shows_w\n0:30, 148\n\n0:40, abc\n", "Line 4: “abc” under shows_w is no reading"),
        ("# spot readings\nat,shows_w\n0:40, abc\n", "Line 3: “abc” under shows_w is no reading"),
    ],
)
def test_a_mistake_of_pasted_readings_is_said_of_the_line_pasted(pasted: str, says: str) -> None:
    """Not of the text that the form makes of it; and headings that were pasted are known to who pasted them."""
    with pytest.raises(SpotReadingInvalid) as caught:
        text_of_paste({"utc_offset": "+01:00"}, pasted)
    assert caught.value.what.startswith(says)


def test_pasted_lines_get_the_headings_that_they_lack() -> None:
    text = text_of_paste({"date": "2026-01-12"}, "13:00:10\t150\t82\n13:00:20\t160\t83")
    assert text.splitlines()[:3] == ["# spot readings", "# date: 2026-01-12", "at\tshows_w\tshows_rpm"]
    with pytest.raises(SpotReadingInvalid):
        text_of_paste({}, "148 W at the first hill")


@given(name=ANY_TEXT, firmware=ANY_TEXT)
@settings(max_examples=60, deadline=None)
def test_a_description_is_read_back_as_it_was(name: str, firmware: str) -> None:
    meter = described_by_form(
        {
            "name": name,
            "place": "pedal",
            "crank": {"set_mm": 172.5, "true_mm": 170.0, "put_right": True},
            "setup": {"firmware": firmware, "zero_taken": False},
            "budget": {"claim": {"half_width_pct": 1.0}},
        }
    )
    there = parse_meter_file(meter_toml(meter), "meter")
    assert (there.name, there.place, there.setup, dict(there.stated)) == (
        meter.name,
        meter.place,
        meter.setup,
        dict(meter.stated),
    )


def test_the_form_of_a_description() -> None:
    meter = MeterFile(
        place=Place.HUB,
        sides=Sides.BOTH,
        setup=SetupRecord(zero_taken=False, battery_pct=80.0),
        stated={"claim": CLAIM},
    )
    said = form_of_meter(meter)
    assert (said["place"], said["setup.zero_taken"], said["setup.battery_pct"]) == ("hub", "false", "80")
    assert (said["budget.claim.half_width_pct"], said["budget.claim.common"]) == ("1", "true")
    assert said["setup.warm_up_min"] == "", "what is not on record is empty, never zero"


@pytest.mark.parametrize(
    ("tables", "where"),
    [
        ({"place": "knee"}, "place"),
        ({"setup": {"battery_pct": 101.0}}, "setup.battery_pct"),
        ({"budget": {"claim": {"half_width_pct": 99.0}}}, "budget.claim.half_width_pct"),
        (
            {"budget": {"zero": {"half_width_nm": 1.0, "standard_uncertainty_nm": 1.0}}},
            "budget.zero.standard_uncertainty_nm",
        ),
        ({"crank": {"put_right": True}}, None),
    ],
)
def test_a_mistake_of_a_description_is_said_at_its_field(tables: dict[str, object], where: str | None) -> None:
    with pytest.raises(MeterFileInvalid) as caught:
        described_by_form(tables)
    assert caught.value.where == where


def test_the_budget_of_a_meter_by_itself() -> None:
    """A claim of ±1 % anywhere alike is 1/√3 % (JCGM 100:2008, 4.3.7, from memory); a zero within ±0.1 N·m at 200 W
    and 85 rpm is 0.1/√3 N·m times ω/P, which is 4.4506 % per N·m (recomputed by hand).
    """
    meter = MeterFile(place=Place.HUB, setup=SetupRecord(zero_taken=True), stated={"claim": CLAIM})
    budget = meter_budget(meter, at_w=200.0, at_rpm=85.0, level=0.95)
    parts = {part.name: part.contribution_pct for part in budget.contributions}
    assert parts["claim"] == pytest.approx(1 / np.sqrt(3))
    assert parts["zero"] == pytest.approx(0.1 / np.sqrt(3) * 4.4506, rel=1e-4)
    assert not {"clock", "response", "sampling", "statistics", "transmission"} & parts.keys(), "nothing of a ride"
    assert budget.standard_pct == pytest.approx(np.sqrt(sum(part**2 for part in parts.values())), rel=1e-6)
    nothing = meter_budget(MeterFile(), at_w=200.0, at_rpm=85.0, level=0.95)
    assert nothing.standard_pct == pytest.approx(3.2), "unknown, it is as uncertain as meters in use"


def test_texts_on_a_bench_are_found_by_how_they_begin(tmp_path: Path) -> None:
    from wattwitness.bench.catalogue import new_bench

    bench = tmp_path / "bench"
    new_bench(bench)
    kept = keep_text(bench, "# hanging weights\n", "a/../b.csv")
    keep_text(bench, "time,power\n", "c.csv")
    assert kept.file_name == "b.csv"
    assert keep_text(bench, "# hanging weights\n", "b.csv") == kept
    found = texts_beginning(bench, "# hanging weights", endings=(".csv",), most_bytes=1000)
    assert found == [kept]
    assert original_called(bench, kept.sha256)[1].read_text() == "# hanging weights\n"
    for wrong in ("", "0" * 64, "../../etc/passwd"):
        with pytest.raises(UnknownName):
            original_called(bench, wrong)


def test_departures_of_rounding_alone_are_drawn_as_none() -> None:
    """A meter that reads exactly what hangs departs by 1e-14 N·m; no axis shows that as if it were something."""
    from wattwitness.charts.weighing import departures
    from wattwitness.workflows.weigh import weigh_worksheets

    rows = [
        row(place, mass_kg=str(mass), reading_nm=f"{mass * 9.8 * 0.17:.6f}") for place, mass in enumerate((10, 20, 30))
    ]
    rows.insert(0, row(9, step="zero_before", mass_kg="", lever_mm="", reading_nm="0"))
    (weighing,) = weigh_worksheets([typed_worksheet({"gravity_m_s2": "9.8"}, rows)]).weighings
    assert departures(weighing).panels[0].y_range == (-0.01, 0.01)
