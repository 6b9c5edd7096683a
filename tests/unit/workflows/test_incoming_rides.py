"""What files of a batch hold, what their columns are said to be, which belong together, and keeping them."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from pathlib import Path

import pytest

from tests.incoming_files import gzip_bomb, pair, table, unclear_table, xml_bomb
from wattwitness.bench.catalogue import new_bench
from wattwitness.model.clock import ClockStatus
from wattwitness.model.errors import MappingInvalid, SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import AloneSettings, CompareSettings
from wattwitness.readers.csv_mapping import parse_mapping
from wattwitness.readers.csv_units import unit_of
from wattwitness.workflows import bench as bench_workflow
from wattwitness.workflows.bench import bench_holds
from wattwitness.workflows.bench_record import undo
from wattwitness.workflows.bench_studies import bench_study
from wattwitness.workflows.incoming import Announced, Arrival, announce, batch_of, batches, begin_batch
from wattwitness.workflows.incoming_columns import TIME, ColumnsSaid, meanings, save_columns, show_columns
from wattwitness.workflows.incoming_kept import keep_alone, keep_rides, known_rides
from wattwitness.workflows.incoming_parts import receive
from wattwitness.workflows.incoming_read import facts_known, read_facts
from wattwitness.workflows.incoming_rides import RideChoice, match_sides, propose, proposed_before
from wattwitness.workflows.lone_recordings import (
    lone_recording_on,
    lone_recordings_on,
    lone_report,
    take_lone_recording_off,
)

POWER, CADENCE = "power_w|w", "cadence_rpm|rpm"


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    new_bench(tmp_path / "bench")
    return tmp_path / "bench"


def batch_with(bench: Path, files: dict[str, bytes]) -> tuple[str, dict[str, Arrival]]:
    batch, arrivals = begin_batch(bench), {}
    for name, content in files.items():
        (answer,) = announce(bench, batch, [Announced(name=name, size_bytes=len(content))])
        assert isinstance(answer, Arrival)
        receiving = receive(bench, batch, answer.id)
        receiving.take(content)
        arrivals[name] = receiving.end()
    return batch, arrivals


def test_good_ones_among_bad_ones_are_proposed_and_kept(bench: Path) -> None:
    bad = {"broken.fit": b"\x0e\x10.FIT nothing", "notes.txt": b"tyres at 7 bar", "blank.csv": b"\0\0\0"}
    batch, files = batch_with(bench, {**bad, **pair(1), **pair(2)})
    proposed = propose(bench, batch)
    assert [(ride.reference, ride.unit) for ride in proposed.rides] == [
        (files[f"day {day} pedals.csv"].id, files[f"day {day} bike.csv"].id) for day in (1, 2)
    ]
    assert {one.shown for one in proposed.unused} == set(bad)
    assert all(one.why for one in proposed.unused)
    assert [ride.day for ride in proposed.rides] == ["2026-03-01", "2026-03-02"]
    told: list[str] = []
    rides = [replace(ride, unit_name="bike", rider="rider A") for ride in proposed.rides]
    keep_rides(bench, batch, rides, progress=told.append)
    assert told == ["kept 1 of 2 rides", "kept 2 of 2 rides"]
    kept = bench_holds(bench, check=True)
    assert not kept.wrong
    assert [(ride.unit, ride.noted.rider, ride.files["unit"].file_name) for ride in kept.rides] == [
        ("bike", "rider A", f"day {day} bike.csv") for day in (1, 2)
    ]
    assert batches(bench) == []  # nothing is left that could be used


def test_a_crash_while_keeping_is_completed_by_the_same_again(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    batch, _ = batch_with(bench, {**pair(1), **pair(2), **pair(3)})
    rides = [replace(ride, unit_name="bike") for ride in propose(bench, batch).rides]

    class Crash(BaseException):
        pass

    def crashes(says: str) -> None:
        if says.startswith("kept 2"):
            raise Crash

    with pytest.raises(Crash):
        keep_rides(bench, batch, rides, progress=crashes)
    left = proposed_before(bench, batch_of(bench, batch))
    assert left is not None
    assert left.begun
    assert known_rides(bench, batch_of(bench, batch), left.rides) == ["bike", "bike", ""]
    assert list(left.rides) == rides
    keep_rides(bench, batch, left.rides)
    assert len(bench_holds(bench, check=False).rides) == 3


def test_what_is_taken_out_stays_among_the_files(bench: Path) -> None:
    batch, _ = batch_with(bench, {**pair(1), **pair(2)})
    first, second = propose(bench, batch).rides
    keep_rides(bench, batch, [replace(first, unit_name="bike"), replace(second, keep=False)])
    assert [one.name for one in batch_of(bench, batch).here] == ["day 2 pedals.csv", "day 2 bike.csv"]
    assert proposed_before(bench, batch_of(bench, batch)) is None


def test_units_of_one_reference_are_rides_of_their_own(bench: Path) -> None:
    batch, files = batch_with(bench, {**pair(1), "day 1 display.csv": table(1, gain=1.03)})
    proposed = propose(bench, batch)
    pairs = {(ride.reference, ride.unit) for ride in proposed.rides if ride.keep}
    reference = files["day 1 pedals.csv"].id
    assert pairs == {(reference, files["day 1 bike.csv"].id), (reference, files["day 1 display.csv"].id)}


def test_a_pair_that_does_not_say_which_is_the_reference_is_asked(bench: Path) -> None:
    batch, _ = batch_with(bench, {"one.csv": table(1), "other.csv": table(1, gain=0.9)})
    (ride,) = propose(bench, batch).rides
    assert not ride.keep
    assert "reference" in ride.doubt
    with pytest.raises(SettingInvalid, match="ticked"):
        keep_rides(bench, batch, [ride])
    keep_rides(bench, batch, [replace(ride, keep=True, reference=ride.unit, unit=ride.reference)])
    (kept,) = bench_holds(bench, check=False).rides
    assert kept.noted.name
    assert batches(bench) == []


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"unit": ""}, "not chosen"),
        ({"unit": "0123456789"}, "no longer here"),
        ({"unit": "../../x"}, "not chosen"),
        ({"unit_name": " \u200f "}, "no words"),
        ({"unit_name": ""}, "no name"),
        ({"day": "31 January"}, "no day"),
        ({"temperature_c": 400.0}, "outside"),
        ({"name": "x" * 500}, "too many letters"),
    ],
)
def test_what_cannot_be_kept_is_told_and_nothing_is_kept(bench: Path, change: dict[str, str], says: str) -> None:
    batch, _ = batch_with(bench, pair(1))
    (ride,) = propose(bench, batch).rides
    with pytest.raises(SettingInvalid, match=says):
        keep_rides(bench, batch, [replace(ride, **change)])  # type: ignore[arg-type]
    assert not bench_holds(bench, check=False).rides


def test_a_ride_of_one_recording_twice(bench: Path) -> None:
    batch, _ = batch_with(bench, pair(1))
    (ride,) = propose(bench, batch).rides
    with pytest.raises(SettingInvalid, match="itself"):
        keep_rides(bench, batch, [replace(ride, unit=ride.reference)])
    with pytest.raises(SettingInvalid, match="twice"):
        keep_rides(bench, batch, [ride, ride])


def test_columns_in_doubt_are_confirmed_once_for_all_of_the_same_headings(bench: Path) -> None:
    files = {"day 1 bike.csv": unclear_table(1), "day 2 bike.csv": unclear_table(2), "day 1 pedals.csv": table(1)}
    batch, arrivals = batch_with(bench, files)
    doubtful = arrivals["day 1 bike.csv"]
    facts = read_facts(bench, batch, doubtful)
    assert facts.columns_in_doubt
    shown = show_columns(bench, batch, doubtful.id)
    assert [column.meaning for column in shown.columns] == [TIME, "", ""]
    assert list(shown.columns[2].cells[:2]) == [row.split(",")[2] for row in unclear_table(1).decode().split()[1:3]]
    save_columns(bench, batch, doubtful.id, ColumnsSaid(meanings=(TIME, POWER, CADENCE)))
    for name in ("day 1 bike.csv", "day 2 bike.csv"):
        now = read_facts(bench, batch, arrivals[name])
        assert [str(channel.name) for channel in now.recordings[0].channels] == ["power_w", "cadence_rpm"]
        assert now.mapping
    again = show_columns(bench, batch, doubtful.id)
    assert [column.meaning for column in again.columns] == [TIME, POWER, CADENCE]
    later, of_later = batch_with(bench, {"day 3 bike.csv": unclear_table(3)})
    assert read_facts(bench, later, of_later["day 3 bike.csv"]).mapping == now.mapping


def test_a_ride_with_confirmed_columns_can_be_judged_from_the_bench(bench: Path) -> None:
    files = {"day 1 pedals.csv": unclear_table(1), "day 1 bike.csv": unclear_table(1, gain=0.95)}
    batch, arrivals = batch_with(bench, files)
    save_columns(bench, batch, arrivals["day 1 bike.csv"].id, ColumnsSaid(meanings=(TIME, POWER, CADENCE)))
    (ride,) = propose(bench, batch).rides
    keep_rides(bench, batch, [replace(ride, unit_name="bike", keep=True)])
    study = bench_study(bench, ListedStudy(rides=()), CompareSettings(), processes=1)
    assert study.rides[0].bias_pct.value == pytest.approx(-5.0, abs=0.5)


@pytest.mark.parametrize("doubtful", ["day 1 bike.csv", "day 1 pedals.csv"])
def test_two_tables_may_need_different_columns(bench: Path, doubtful: str) -> None:
    files = pair(1)
    files[doubtful] = unclear_table(1, gain=0.95 if "bike" in doubtful else 1.0)
    batch, arrivals = batch_with(bench, files)
    save_columns(bench, batch, arrivals[doubtful].id, ColumnsSaid(meanings=(TIME, POWER, CADENCE)))
    (ride,) = propose(bench, batch).rides
    assert (ride.reference, ride.unit) == (arrivals["day 1 pedals.csv"].id, arrivals["day 1 bike.csv"].id)
    keep_rides(bench, batch, [replace(ride, unit_name="bike", keep=True)])
    study = bench_study(bench, ListedStudy(rides=()), CompareSettings(), processes=1)
    assert study.rides[0].bias_pct.value == pytest.approx(-5.0, abs=0.5)


def test_a_decimal_sign_and_a_clock_that_is_not_utc_are_said_once_for_all_tables(bench: Path) -> None:
    batch, arrivals = batch_with(bench, {"day 1 bike.csv": unclear_table(1)})
    file = arrivals["day 1 bike.csv"].id
    columns = ColumnsSaid(meanings=(TIME, POWER, CADENCE), utc_offset_min=-90.0, decimal=".")
    save_columns(bench, batch, file, columns)
    (recording,) = read_facts(bench, batch, arrivals["day 1 bike.csv"]).recordings
    assert recording.first_sample_utc.startswith("2026-03-01T09:00")  # its stamps say their zone, and are believed
    said = show_columns(bench, batch, file).said
    assert said is not None
    assert (said.utc_offset_min, said.decimal) == (-90.0, ".")
    for bad in (replace(columns, utc_offset_min=1e4), replace(columns, decimal=";")):
        with pytest.raises(MappingInvalid):
            save_columns(bench, batch, file, bad)


def test_two_efforts_are_doubted_and_what_the_tester_chooses_is_held_against_each_other(bench: Path) -> None:
    other = table(2).replace(b"2026-03-02", b"2026-03-01")
    files = {"day 1 pedals.csv": table(1), "day 1 bike.csv": other, "unit.csv": table(1, gain=0.9)}
    batch, arrivals = batch_with(bench, files)
    reference, wrong, right = (arrivals[name].id for name in files)
    by_unit = {ride.unit: ride for ride in propose(bench, batch).rides}
    assert by_unit[wrong].doubt
    assert not by_unit[wrong].says
    assert by_unit[right].keep
    assert "efforts match" in by_unit[right].says
    assert match_sides(bench, batch, reference, wrong).status in (ClockStatus.AMBIGUOUS, ClockStatus.NO_COMMON_EFFORT)
    assert match_sides(bench, batch, right, reference).status is ClockStatus.FOUND
    for unit in (reference, "", "0123456789", "../x"):
        with pytest.raises(SettingInvalid):
            match_sides(bench, batch, reference, unit)


@pytest.mark.parametrize(
    "said",
    [
        ColumnsSaid(meanings=(TIME, "", "")),
        ColumnsSaid(meanings=("", POWER, "")),
        ColumnsSaid(meanings=(TIME, POWER, "power_w|kw")),
        ColumnsSaid(meanings=(TIME, POWER)),
        ColumnsSaid(meanings=(TIME, "watts", "")),
        ColumnsSaid(meanings=(TIME, POWER, ""), time_kind="seconds"),
        ColumnsSaid(meanings=(TIME, POWER, ""), time_kind="fortnights"),
        ColumnsSaid(meanings=("", POWER, ""), time_kind="row_number", step_s=0.0),
    ],
)
def test_columns_that_do_not_fit_are_not_remembered(bench: Path, said: ColumnsSaid) -> None:
    from wattwitness.model.errors import WattwitnessError

    batch, arrivals = batch_with(bench, {"day 1 bike.csv": unclear_table(1)})
    with pytest.raises(WattwitnessError):
        save_columns(bench, batch, arrivals["day 1 bike.csv"].id, said)
    assert not list((bench / "incoming").glob("mappings/*.toml"))


def test_a_table_without_time_is_read_by_its_spacing(bench: Path) -> None:
    rows = "a;b\n" + "".join(f"{100 + n % 9};{80 + n % 3}\n" for n in range(300))
    batch, arrivals = batch_with(bench, {"bike.csv": rows.encode()})
    (file,) = arrivals.values()
    save_columns(bench, batch, file.id, ColumnsSaid(meanings=(POWER, CADENCE), step_s=2.0))
    assert read_facts(bench, batch, file).recordings[0].duration_s == pytest.approx(598.0)


def test_every_meaning_is_one_that_a_mapping_understands() -> None:
    for meaning, words in meanings():
        channel, bar, unit = meaning.partition("|")
        if bar:
            text = f'[columns]\n{channel} = 1\n[units]\n{channel} = "{unit}"\n'
            (known,) = parse_mapping(text).channels
            assert unit_of(known, unit) is not None
            assert words


def test_bombs_are_refused_within_bounds_and_the_others_go_on(bench: Path) -> None:
    bombs = {"bomb.fit.gz": gzip_bomb(), "bomb.tcx": xml_bomb()}
    batch, arrivals = batch_with(bench, {**bombs, **pair(1)})
    tracemalloc.start()
    try:
        found = {name: read_facts(bench, batch, arrivals[name]).wrong for name in bombs}
        _, most_bytes = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    slugs = {name: wrong.slug for name, wrong in found.items() if wrong}
    assert slugs == {"bomb.fit.gz": "file_too_large", "bomb.tcx": "unsafe_xml"}
    assert most_bytes < 700 << 20
    assert len(propose(bench, batch).rides) == 1


def test_one_recording_alone_can_be_kept(bench: Path) -> None:
    batch, arrivals = batch_with(bench, {"day 1 bike.csv": table(1)})
    proposed = propose(bench, batch)
    assert not proposed.rides
    assert [one.shown for one in proposed.unused] == ["day 1 bike.csv"]
    kept = keep_alone(bench, batch, arrivals["day 1 bike.csv"].id)
    holds = bench_holds(bench, check=True)
    assert (holds.originals, holds.wrong) == (1, ())
    assert batches(bench) == []
    assert [(one.id, one.name) for one in lone_recordings_on(bench)] == [(kept[0], "day 1 bike.csv")]
    report = lone_report(bench, lone_recording_on(bench, kept[0]), AloneSettings())
    assert report.recording.source.file_name == "day 1 bike.csv"


def test_a_recording_alone_is_alone_until_a_ride_is_made_of_it(bench: Path) -> None:
    batch, arrivals = batch_with(bench, {"day 1 bike.csv": table(1)})
    for _ in range(2):  # a second time changes nothing
        keep_alone(bench, batch, arrivals["day 1 bike.csv"].id)
        batch, arrivals = batch_with(bench, {"day 1 bike.csv": table(1)})
    (lone,) = lone_recordings_on(bench)
    take_lone_recording_off(bench, lone.id)
    assert lone_recordings_on(bench) == []
    undo(bench)
    assert lone_recordings_on(bench) == [lone]
    batch, _ = batch_with(bench, pair(1))
    keep_rides(bench, batch, propose(bench, batch).rides)
    assert lone_recordings_on(bench) == []
    with pytest.raises(UnknownName, match="no recording"):
        lone_recording_on(bench, lone.id)


def test_a_new_file_makes_a_new_proposal(bench: Path) -> None:
    batch, _ = batch_with(bench, pair(1))
    propose(bench, batch)
    assert proposed_before(bench, batch_of(bench, batch)) is not None
    (answer,) = announce(bench, batch, [Announced(name="x.csv", size_bytes=1)])
    assert isinstance(answer, Arrival)
    assert proposed_before(bench, batch_of(bench, batch)) is not None  # it is not here yet
    receiving = receive(bench, batch, answer.id)
    receiving.take(b"x")
    receiving.end()
    assert proposed_before(bench, batch_of(bench, batch)) is None


def test_rides_that_are_there_already_are_told_and_not_kept_twice(bench: Path) -> None:
    for _ in range(2):
        batch, _arrivals = batch_with(bench, pair(1))
        (ride,) = propose(bench, batch).rides
        known = known_rides(bench, batch_of(bench, batch), [ride])
        keep_rides(bench, batch, [replace(ride, unit_name="bike")])
    assert known == ["bike"]
    assert len(bench_holds(bench, check=False).rides) == 1


def test_a_batch_that_is_gone(bench: Path) -> None:
    with pytest.raises(UnknownName):
        propose(bench, "0123456789ab")
    with pytest.raises(UnknownName):
        keep_rides(bench, "0123456789ab", [RideChoice(reference="", unit="", name="")])
    batch, arrivals = batch_with(bench, {"x.csv": b"x"})
    assert facts_known(bench, batch, arrivals["x.csv"]) is None
    assert bench_workflow.bench_holds(bench, check=False).rides == ()
