"""Headings are read in the languages and units exports come in; what could be the power twice is never guessed."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.readers_csv.reading import read, slugs, table
from wattwitness.model.errors import ColumnsUnclear, NoSamples
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_columns import read_heading

POWER, CADENCE, HEART = ChannelName.POWER, ChannelName.CADENCE, ChannelName.HEART_RATE
TORQUE, SPEED, SHARE = ChannelName.TORQUE, ChannelName.SPEED, ChannelName.LEFT_SHARE


@pytest.mark.parametrize(
    ("heading", "channel"),
    [
        *(
            (text, POWER)
            for text in ("Power (W)", "power_w", "Watts", "WATTS", "Leistung [W]", "Puissance", "Vermogen")
        ),
        *((text, POWER) for text in ("Power, W", "Power in W", "Potencia (W)", "Effekt", "power", "Pwr", "P [W]", "W")),
        *((text, POWER) for text in ("Pedal power", "PowerWatts", "Power/W", "kW", "Total power (W)", "Výkon")),
        *(
            (text, CADENCE)
            for text in ("Cadence (rpm)", "RPM", "Trittfrequenz [1/min]", "cadence_rpm", "Kadenz", "cad")
        ),
        *((text, CADENCE) for text in ("Power meter cadence", "Cadencia", "Trapfrequentie (omw/min)")),
        *(
            (text, HEART)
            for text in ("Heart Rate [bpm]", "HR", "heart_rate", "heartRate", "Herzfrequenz", "BPM", "Puls")
        ),
        *((text, HEART) for text in ("Fréquence cardiaque", "Hartslag (bpm)", "heart rate (1/min)")),
        *(
            (text, TORQUE)
            for text in ("Torque (Nm)", "Torque (N·m)", "torque_nm", "Drehmoment", "Torque in-lb", "Couple")
        ),
        *((text, SPEED) for text in ("Speed (km/h)", "mph", "Km/h", "m/s", "Geschwindigkeit km/h", "KPH", "Vitesse")),
        *((text, SHARE) for text in ("Left/Right balance", "L/R Balance (%)", "left %", "LRBalance", "left share (%)")),
        ("Temp (°C)", ChannelName.TEMPERATURE),
        ("Resistance", ChannelName.RESISTANCE),
        ("Widerstand", ChannelName.RESISTANCE),
    ],
)
def test_headings_of_measurements(heading: str, channel: ChannelName) -> None:
    found = read_heading(1, heading)
    assert (found.channel, found.aside) == (channel, "")


@pytest.mark.parametrize(
    "heading",
    [
        "Target power", "Target Power (W)", "Avg power", "Average Watts", "Power (avg)", "Max power (W)", "Power %",
        "Power (%)", "Power zone", "Power 3s avg", "power_3s", "Power (10 s)", "Normalised power", "Weighted power (W)",
        "Power W/kg", "Power (W/kg)", "Solleistung (W)", "Ziel-Leistung", "Ø Leistung", "Lap power", "Estimated power",
        "Left power", "Power Right", "Power L", "power_left_w", "Smoothed power", "Relative power", "Target (W)",
        "Power error (W)",
    ],
)  # fmt: skip
def test_headings_near_to_power_are_not_power(heading: str) -> None:
    found = read_heading(1, heading)
    assert found.channel is not POWER or found.aside


@pytest.mark.parametrize(
    "heading", ["Energy (kJ)", "Work", "Distance", "Calories", "Torque effectiveness", "Altitude", "ID"]
)
def test_headings_of_other_things(heading: str) -> None:
    found = read_heading(1, heading)
    assert found.channel is None
    assert not found.time


@pytest.mark.parametrize(
    ("heading", "cell", "channel", "expected"),
    [
        ("Power (kW)", "0.25", POWER, 250.0),
        ("Power (hp)", "1", POWER, 745.69987),  # 550 ft·lbf/s; NIST SP 811 App. B.8, from memory
        ("Speed (km/h)", "36", SPEED, 10.0),
        ("Speed (mph)", "10", SPEED, 4.4704),  # 1609.344 m/h x 10; exact by the definition of the international mile
        ("kph", "36", SPEED, 10.0),
        ("Torque (lbf·ft)", "10", TORQUE, 13.558179),  # NIST SP 811 App. B.8: 1.355818 N·m, from memory
        ("Torque in-lb", "10", TORQUE, 1.1298483),  # NIST SP 811 App. B.8: 0.1129848 N·m, from memory
        ("Temperature (°F)", "68", ChannelName.TEMPERATURE, 20.0),
        ("Temp [K]", "293.15", ChannelName.TEMPERATURE, 20.0),
        ("Cadence (Hz)", "1.5", CADENCE, 90.0),
        ("Left balance", "0.48", SHARE, 48.0),
        ("Right balance (%)", "53", SHARE, 47.0),
        ("Balance L/R", "48/52", SHARE, 48.0),
        ("Speed", "36", SPEED, 10.0),
        ("Speed", "9.5", SPEED, 9.5),
    ],
)
def test_units_are_converted_and_said(heading: str, cell: str, channel: ChannelName, expected: float) -> None:
    recording = read(table(f"secs,{heading}", lambda i: f"{i},{cell}"))
    np.testing.assert_allclose(recording.channels[channel], expected, rtol=1e-6)
    if "/52" not in cell and expected != float(cell) and "Right" not in heading:
        assert {"unit_converted", "unit_assumed"} & set(slugs(recording))


def test_units_in_a_row_of_their_own() -> None:
    recording = read("Time;Power;Cadence\n[s];[kW];[rpm]\n" + table("", lambda i: f"{i};0,2;85").lstrip())
    assert recording.channels[POWER][0] == 200.0
    assert recording.time_s.size == 90


def test_units_in_the_cells() -> None:
    recording = read(table("Time,Output,HR", lambda i: f"{i},{150 + i} W,120 bpm"))
    assert recording.channels[HEART][0] == 120.0
    assert "no_power_column" in slugs(recording)
    assert read(table("Time,Power", lambda i: f"{i},0.{150 + i} kW")).channels[POWER][0] == 150.0


def test_power_that_can_only_be_kilowatts_is_asked_about() -> None:
    with pytest.raises(ColumnsUnclear, match="watts or kilowatts"):
        read(table("Time,Power", lambda i: f"{i},0.{150 + i}"))


@pytest.mark.parametrize(
    "headings",
    [
        "Power,Pedal power",
        "Power,Power",
        "Watts,Power (W)",
        "Bike (W),Pedals (W)",
        "Power 1,Power 2",
        "Power (kW),Power (W)",
    ],
)
def test_two_columns_that_could_be_the_power_are_asked_about(headings: str) -> None:
    with pytest.raises(ColumnsUnclear, match="2 columns could be the power") as error:
        read(table(f"Time,{headings}", lambda i: f"{i},{150 + i},{140 + i}"))
    assert "--save-mapping" in error.value.hint


def test_of_two_power_columns_an_empty_one_is_none() -> None:
    assert read(table("Time,Power,Watts", lambda i: f"{i},,{150 + i}")).channels[POWER][0] == 150.0


def test_a_power_column_that_fills_late_is_still_seen() -> None:
    with pytest.raises(ColumnsUnclear):
        read(table("Time,Power,Watts", lambda i: f"{i},{150 if i > 2900 else ''},{150 + i % 9}", 3000))


def test_both_legs_alone_are_asked_about_and_the_sum_is_proposed() -> None:
    with pytest.raises(ColumnsUnclear, match="of each leg") as error:
        read(table("Time,Left power,Right power", lambda i: f"{i},{75 + i},{70 + i}"))
    assert 'power_w = ["Left power", "Right power"]' in error.value.hint


def test_both_legs_beside_the_whole_are_no_question() -> None:
    recording = read(table("Time,Power,Left power,Right power", lambda i: f"{i},{150 + i},75,75"))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


def test_the_same_headings_under_two_groups() -> None:
    with pytest.raises(ColumnsUnclear, match=r"Bike Power.*Pedals Power"):
        read(",Bike,,Pedals,\n" + table("Time,Power,Cadence,Power,Cadence", lambda i: f"{i},150,80,149,80"))


def test_an_average_alone_is_said_and_not_used() -> None:
    recording = read(table("Time,Avg power,Cadence", lambda i: f"{i},150,{80 + i % 3}"))
    assert not recording.has(POWER)
    assert "no_power_column" in slugs(recording)


def test_no_channel_at_all() -> None:
    with pytest.raises(NoSamples, match="No column of the table") as error:
        read(table("Time,Distance,Altitude", lambda i: f"{i},{i * 7},12"))
    assert "“Altitude”" in error.value.hint


def test_two_cadences_take_the_first_and_say_so() -> None:
    recording = read(table("Time,Power,Cadence,RPM", lambda i: f"{i},150,{80 + i % 3},{70 + i % 3}"))
    assert recording.channels[CADENCE][0] == 80.0
    assert "several_columns" in slugs(recording)


def test_a_heading_that_looks_like_a_formula_is_text() -> None:
    recording = read(table("Time,Power,\"=cmd|' /C calc'!A0\"", lambda i: f'{i},{150 + i},"=1+1"'))
    np.testing.assert_array_equal(recording.channels[POWER], 150 + np.arange(90))


def test_rows_wider_than_the_headings_are_asked_about() -> None:
    with pytest.raises(ColumnsUnclear, match="more cells than the 2 headings"):
        read(table("Time,Power", lambda i: f"{i},0,150,5"))


def test_the_power_left_aside_is_named() -> None:
    ride = read(
        "time,power_left,power_total\n" + "".join(f"{second},{90 + second},{180 + second}\n" for second in range(9))
    )
    assert ride.channels[POWER][0] == 180
    (said,) = (notice for notice in ride.notices if notice.slug == "other_power_not_used")
    assert "comes from “power_total”" in said.message
    assert "“power_left” (the left side alone) was not used" in said.message


def test_nothing_is_said_of_a_lone_power_or_an_empty_column() -> None:
    rows = "".join(f"{second},,{180 + second}\n" for second in range(9))
    assert "other_power_not_used" not in slugs(read("time,power_left,power_total\n" + rows))
    assert "other_power_not_used" not in slugs(read("time,note,power\n" + rows))
