"""Every change is on record, comes back when asked, and reaches the study."""

from __future__ import annotations

from pathlib import Path

import pytest

from wattwitness.bench.catalogue import catalogue, new_bench
from wattwitness.bench.notes import About
from wattwitness.bench.rides import rides_of
from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.errors import BenchInvalid, SettingInvalid, UnknownName
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.ride_list import FieldRider, ListedRide, ListedStudy
from wattwitness.model.rider import ZoneSet
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench import add_rides
from wattwitness.workflows.bench_record import last_of, record_of, undo
from wattwitness.workflows.bench_studies import kept_question, together

CLAIM = Claim(name="maker", source="the maker's page", status=ClaimStatus.STATED, limit_pct=2.0)


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    folder = tmp_path / "bench"
    new_bench(folder)
    rides = []
    for number in (1, 2):
        for side in ("pedals", "bike"):
            (tmp_path / f"{side}{number}.csv").write_text(f"{side}{number}")
        rides.append(
            ListedRide(
                name=f"ride {number}",
                reference=str(tmp_path / f"pedals{number}.csv"),
                unit=str(tmp_path / f"bike{number}.csv"),
                day=f"2026-01-{10 + number}",
            )
        )
    add_rides(folder, ListedStudy(rides=tuple(rides)), "bike A")
    return folder


def rows(bench: Path) -> list[tuple[object, ...]]:
    with catalogue(bench) as connection:
        return [
            (ride.id, ride.unit, repr(ride.noted), sorted(ride.files.items()), ride.reference_meter_id)
            for ride in rides_of(connection, bench)
        ]


CHANGES = {
    "facts": lambda bench: changes.set_facts(bench, 1, changes.RideFacts(name="first", day="2026-02-01", rider="R 1")),
    "offset": lambda bench: changes.set_offset(bench, 1, -3.5),
    "excluded": lambda bench: changes.set_excluded(bench, 2, "the strap was loose"),
    "stretch": lambda bench: changes.leave_out(bench, 1, LeftOutStretch(from_s=60, to_s=90, reason="stood up")),
    "taken off": lambda bench: changes.take_off(bench, 2),
    "renamed": lambda bench: changes.rename_unit(bench, 1, "bike Z"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_a_change_is_seen_said_and_taken_back(bench: Path, change: object) -> None:
    before = rows(bench)
    change(bench)  # type: ignore[operator]
    assert rows(bench) != before
    (on_record,) = record_of(bench)
    assert not on_record.undone
    assert undo(bench) == on_record.what
    assert rows(bench) == before
    assert record_of(bench)[0].undone
    assert undo(bench) == ""


def test_changes_are_taken_back_in_reverse_order(bench: Path) -> None:
    before = rows(bench)
    changes.leave_out(bench, 1, LeftOutStretch(from_s=60, to_s=90, reason="a bottle"))
    changes.leave_out(bench, 1, LeftOutStretch(from_s=10, to_s=20, reason="not clipped in"))
    changes.take_in_again(bench, 1, 1)
    changes.set_offset(bench, 1, 2.0)
    changes.take_off(bench, 1)
    said = [undo(bench) for _ in range(5)]
    assert rows(bench) == before
    assert said == [one.what for one in record_of(bench)]


def test_the_same_change_twice_is_on_record_once(bench: Path) -> None:
    changes.set_offset(bench, 1, 2.0)
    changes.set_offset(bench, 1, 2.0)
    assert len(record_of(bench)) == 1


def test_a_ride_taken_off_can_be_added_again_and_is_then_not_put_back_over_it(bench: Path, tmp_path: Path) -> None:
    """Taking the removal back must not write over the newcomer, which has a number of its own."""
    changes.take_off(bench, 2)
    again = ListedRide(name="ride 2", reference=str(tmp_path / "pedals2.csv"), unit=str(tmp_path / "bike2.csv"))
    add_rides(bench, ListedStudy(rides=(again,)), "bike A")
    before = rows(bench)
    with pytest.raises(BenchInvalid, match="cannot be taken back"):
        undo(bench)
    assert rows(bench) == before


def test_no_number_is_ever_given_again(bench: Path, tmp_path: Path) -> None:
    """A page that still shows what was taken off must not come to mean another ride, note or stretch."""
    highest = max(ride.id for ride in changes.rides_on(bench))
    changes.take_off(bench, highest)
    other = ListedRide(name="another", reference=str(tmp_path / "pedals2.csv"), unit=str(tmp_path / "bike2.csv"))
    add_rides(bench, ListedStudy(rides=(other,)), "bike B")
    assert max(ride.id for ride in changes.rides_on(bench)) == highest + 1
    assert "was taken off" in undo(bench)
    assert {highest, highest + 1} <= {ride.id for ride in changes.rides_on(bench)}
    changes.add_note(bench, About.BENCH, 0, "first")
    (first,) = changes.notes_of(bench, About.BENCH, 0)
    undo(bench)
    changes.add_note(bench, About.BENCH, 0, "second")
    assert changes.notes_of(bench, About.BENCH, 0)[0].id != first.id


def test_a_change_that_cannot_be_taken_back_bars_no_other(bench: Path, tmp_path: Path) -> None:
    changes.set_offset(bench, 1, 2.0)
    changes.take_off(bench, 2)
    again = ListedRide(name="ride 2", reference=str(tmp_path / "pedals2.csv"), unit=str(tmp_path / "bike2.csv"))
    add_rides(bench, ListedStudy(rides=(again,)), "bike A")
    stuck = last_of(record_of(bench))
    with pytest.raises(BenchInvalid, match="stands on it now"):
        undo(bench, stuck)
    first, second = record_of(bench)
    assert (first.stuck, first.undone, second.stuck) == (True, False, False)
    assert last_of(record_of(bench)) == second.id
    assert "given by hand" in undo(bench, second.id)
    assert last_of(record_of(bench)) is None


def test_a_doctored_record_undoes_nothing(bench: Path) -> None:
    changes.set_offset(bench, 1, 2.0)
    before = rows(bench)
    for back in (
        '[{"table": "recordings", "id": 1, "was": "added", "values": null}]',
        '[{"table": "rides", "id": 1, "was": "changed", "values": {"id": 2}}]',
        '[{"table": "rides"}]',
        "[1]",
        "no json",
        '[{"table": "rides", "id": "1; DROP TABLE rides", "was": "added", "values": null}]',
    ):
        with catalogue(bench, write=True) as connection:
            connection.exec_driver_sql("UPDATE changes SET back = ?, undone_at = NULL", (back,))
        with pytest.raises(BenchInvalid):
            undo(bench)
        assert rows(bench) == before


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda bench: changes.set_offset(bench, 9, 1.0), "no ride 9"),
        (lambda bench: changes.set_offset(bench, 1, float("nan")), "outside"),
        (lambda bench: changes.set_excluded(bench, 1, "x" * 300), "letters"),
        (lambda bench: changes.leave_out(bench, 1, LeftOutStretch(from_s=5, to_s=5, reason="x")), "ends after"),
        (lambda bench: changes.leave_out(bench, 1, LeftOutStretch(from_s=1, to_s=5, reason=" ")), "no words"),
        (lambda bench: changes.set_facts(bench, 1, changes.RideFacts(name="ride 2")), "another ride"),
        (lambda bench: changes.set_facts(bench, 1, changes.RideFacts(name="a", day="31.1.2026")), "no day"),
        (lambda bench: changes.rename_unit(bench, 1, ""), "no words"),
        (lambda bench: changes.add_note(bench, About.RIDE, 1, " \n "), "some words"),
        (lambda bench: changes.unit_is_meter(bench, 1, "unheard of"), "no meter"),
    ],
)
def test_what_makes_no_sense_is_refused_and_nothing_changes(bench: Path, change: object, says: str) -> None:
    before = rows(bench)
    with pytest.raises((SettingInvalid, UnknownName), match=says):
        change(bench)  # type: ignore[operator]
    assert rows(bench) == before
    assert record_of(bench) == []


def test_the_setup_in_force_on_the_day_describes_the_meter(bench: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "first.toml", tmp_path / "second.toml"
    first.write_text('name = "bike A"\n')
    second.write_text('name = "bike A"\nplace = "brake"\n')
    changes.describe_meter(bench, "bike A", since_day="2026-01-01", firmware="1.04", described=first)
    changes.describe_meter(bench, "bike A", since_day="2026-01-12", firmware="1.05", described=second)
    changes.unit_is_meter(bench, 1, "bike A")
    with catalogue(bench) as connection:
        one, two = rides_of(connection, bench)
    assert (one.noted.firmware, two.noted.firmware) == ("1.04", "1.05")
    assert one.files["unit_meter"].file_name == "first.toml"
    assert two.files["unit_meter"].file_name == "second.toml"
    changes.set_facts(bench, 2, changes.RideFacts(name="ride 2", day="2026-01-12", firmware="9"))
    with catalogue(bench) as connection:
        assert rides_of(connection, bench)[1].noted.firmware == "9"


def test_what_is_asked_of_a_unit_is_kept_and_what_is_asked_now_wins(bench: Path) -> None:
    asked = ListedStudy(
        rides=(), claim=CLAIM, threshold_w=250.0, before="old", field_riders=(FieldRider(name="R 1", mean_w=240.0),)
    )
    changes.ask_of_unit(bench, 1, asked)
    kept = kept_question(bench, 1)
    assert kept == asked
    now = together(kept, ListedStudy(rides=(), threshold_w=260.0))
    assert (now.threshold_w, now.claim, now.before) == (260.0, CLAIM, "old")
    undo(bench)
    assert kept_question(bench, 1) == ListedStudy(rides=())


def test_notes_are_kept_as_they_were_written_without_unseen_signs(bench: Path) -> None:
    changes.add_note(bench, About.RIDE, 1, "Rain.\r\n<script>alert(1)</script> \u202eevil\x07")
    (note,) = changes.notes_of(bench, About.RIDE, 1)
    assert note.text == "Rain.\n<script>alert(1)</script> evil"
    changes.remove_note(bench, note.id)
    assert changes.notes_of(bench, About.RIDE, 1) == []
    undo(bench)
    assert changes.notes_of(bench, About.RIDE, 1) == [note]


def test_the_notes_of_a_ride_that_is_gone_are_not_those_of_the_next(bench: Path, tmp_path: Path) -> None:
    changes.add_note(bench, About.RIDE, 2, "of the second")
    changes.take_off(bench, 2)
    (tmp_path / "other.csv").write_text("other")
    newcomer = ListedRide(name="ride 9", reference=str(tmp_path / "pedals1.csv"), unit=str(tmp_path / "other.csv"))
    add_rides(bench, ListedStudy(rides=(newcomer,)), "bike A")
    assert changes.notes_of(bench, About.RIDE, 2) == []


def test_a_ride_that_comes_back_has_its_notes(bench: Path) -> None:
    changes.add_note(bench, About.RIDE, 2, "of the second")
    changes.take_off(bench, 2)
    undo(bench)
    assert [note.text for note in changes.notes_of(bench, About.RIDE, 2)] == ["of the second"]


def test_new_firmware_leaves_the_description_of_a_meter_in_force(bench: Path, tmp_path: Path) -> None:
    (tmp_path / "first.toml").write_text('name = "bike A"\n')
    changes.describe_meter(bench, "bike A", since_day="2026-01-01", firmware="1.04", described=tmp_path / "first.toml")
    changes.describe_meter(bench, "bike A", since_day="2026-01-12", firmware="1.05")
    changes.unit_is_meter(bench, 1, "bike A")
    with catalogue(bench) as connection:
        two = rides_of(connection, bench)[1]
    assert two.noted.firmware == "1.05"
    assert two.files["unit_meter"].file_name == "first.toml"


def test_zones_by_name_win_over_kept_ones_of_ones_own() -> None:
    own = ZoneSet(name="own", upper=(0.8,), names=("low", "high"), source="mine")
    kept = ListedStudy(rides=(), own_zones=own)
    assert together(kept, ListedStudy(rides=(), zones="three_zones")).own_zones is None
    assert together(kept, ListedStudy(rides=())).own_zones == own


def test_one_meter_wrote_every_reference_in_one_change(bench: Path) -> None:
    changes.describe_meter(bench, "pedals")
    changes.references_are_meter(bench, "pedals")
    assert [row[-1] for row in rows(bench)] == [1, 1]
    undo(bench)
    assert [row[-1] for row in rows(bench)] == [None, None]
