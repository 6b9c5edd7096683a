"""Files on their way to a bench: announced, cut at every limit, whole or awaited after any crash."""

from __future__ import annotations

from pathlib import Path

import pytest

from wattwitness.bench.catalogue import new_bench
from wattwitness.model.errors import CorruptFile, FileTooLarge, OutputNotWritable, SettingInvalid, UnknownName
from wattwitness.workflows import incoming, incoming_parts
from wattwitness.workflows.incoming import (
    Announced,
    Arrival,
    announce,
    arrival_of,
    batch_of,
    batches,
    begin_batch,
    path_of_arrival,
    take_out,
    throw_away,
)
from wattwitness.workflows.incoming_parts import Receiving, clean_parts, receive


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    new_bench(tmp_path / "bench")
    return tmp_path / "bench"


def announced(bench: Path, batch: str, name: str, size: int, folder: str = "") -> Arrival:
    (answer,) = announce(bench, batch, [Announced(name=name, folder=folder, size_bytes=size)])
    assert isinstance(answer, Arrival)
    return answer


def sent(bench: Path, batch: str, name: str, content: bytes, folder: str = "") -> Arrival:
    receiving = receive(bench, batch, announced(bench, batch, name, len(content), folder).id)
    receiving.take(content)
    return receiving.end()


def take_all(receiving: Receiving, pieces: list[bytes]) -> None:
    for piece in pieces:
        receiving.take(piece)
    receiving.end()


def parts(bench: Path, batch: str) -> list[Path]:
    return list((bench / "incoming" / batch / "parts").iterdir())


def test_bytes_arrive_as_they_were_sent_under_their_own_name(bench: Path) -> None:
    batch = begin_batch(bench)
    there = sent(bench, batch, "../ride?.fit", b"some bytes")
    assert path_of_arrival(bench, batch, there).read_bytes() == b"some bytes"
    assert path_of_arrival(bench, batch, there).parent == bench / "incoming" / batch / "files"
    assert batch_of(bench, batch).here[0].name == "../ride?.fit"
    assert not parts(bench, batch)


def test_two_of_one_name_are_kept_apart_and_folders_stay_together(bench: Path) -> None:
    batch = begin_batch(bench)
    for content in (b"one", b"two"):
        sent(bench, batch, "pedals.fit", content)
    for name in ("Pedals.fit", "bike.fit"):
        sent(bench, batch, name, name.encode(), folder="winter/day 1")
    places = [one.place for one in batch_of(bench, batch).here]
    assert places == ["pedals.fit", "again 2/pedals.fit", "winter - day 1/Pedals.fit", "winter - day 1/bike.fit"]
    assert sorted(path_of_arrival(bench, batch, one).read_bytes() for one in batch_of(bench, batch).here) == sorted(
        [b"one", b"two", b"Pedals.fit", b"bike.fit"]
    )


def test_the_same_bytes_are_kept_once_and_outlive_the_first(bench: Path) -> None:
    batch = begin_batch(bench)
    first, again = sent(bench, batch, "a.fit", b"same"), sent(bench, batch, "b.fit", b"same")
    assert (again.same_as, again.place) == (first.id, "")
    take_out(bench, batch, first.id)
    (left,) = batch_of(bench, batch).here
    assert left.name == "b.fit"
    assert path_of_arrival(bench, batch, left).read_bytes() == b"same"
    take_out(bench, batch, left.id)
    assert not [path for path in (bench / "incoming" / batch / "files").rglob("*") if path.is_file()]


def test_an_announcement_too_large_is_refused_at_once_and_the_others_are_not(bench: Path) -> None:
    batch = begin_batch(bench)
    files = [Announced(name="huge.fit", size_bytes=3_000_000_000), Announced(name="fine.fit", size_bytes=10)]
    refusal, fine = announce(bench, batch, files)
    assert isinstance(refusal, FileTooLarge)
    assert isinstance(fine, Arrival)
    assert [one.name for one in batch_of(bench, batch).arrivals] == ["fine.fit"]


@pytest.mark.parametrize("content", [b"short", b"much longer than was said"])
def test_a_file_that_changed_while_it_was_sent_is_not_taken(bench: Path, content: bytes) -> None:
    batch = begin_batch(bench)
    receiving = receive(bench, batch, announced(bench, batch, "ride.fit", 10).id)
    with pytest.raises(CorruptFile, match="announced"):
        take_all(receiving, [content])
    receiving.give_up()
    assert not parts(bench, batch)
    assert len(batch_of(bench, batch).awaited) == 1


def test_more_than_was_announced_is_cut_before_it_is_written(bench: Path) -> None:
    batch = begin_batch(bench)
    receiving = receive(bench, batch, announced(bench, batch, "ride.fit", 10).id)
    with pytest.raises(CorruptFile):
        receiving.take(b"x" * 1000)
    receiving.file.flush()
    assert receiving.part.stat().st_size == 0
    receiving.give_up()


def test_the_disk_bounds_a_batch(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each file is needed twice for a while: 100 free bytes hold two of 25, not three."""
    monkeypatch.setattr(incoming, "free_bytes", lambda _: 100)
    batch = begin_batch(bench)
    answers = announce(bench, batch, [Announced(name=f"{n}.fit", size_bytes=25) for n in range(3)])
    assert [type(answer) for answer in answers] == [Arrival, Arrival, OutputNotWritable]


def test_a_disk_that_fills_while_a_file_comes(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = begin_batch(bench)
    receiving = receive(bench, batch, announced(bench, batch, "ride.fit", 50 << 20).id)
    monkeypatch.setattr(incoming_parts, "free_bytes", lambda _: -1)
    with pytest.raises(OutputNotWritable, match="no room"):
        take_all(receiving, [bytes(1 << 20)] * 50)
    receiving.give_up()
    assert not parts(bench, batch)


def test_what_is_announced_again_is_awaited_once(bench: Path) -> None:
    batch = begin_batch(bench)
    first = announced(bench, batch, "ride.fit", 10)
    assert announced(bench, batch, "ride.fit", 10).id == first.id
    assert announced(bench, batch, "ride.fit", 11).id != first.id


def test_two_tabs_send_the_same_file(bench: Path) -> None:
    batch = begin_batch(bench)
    file = announced(bench, batch, "ride.fit", 4).id
    one, other = receive(bench, batch, file), receive(bench, batch, file)
    one.take(b"ride")
    other.take(b"ride")
    assert one.end() == other.end()
    assert len(batch_of(bench, batch).here) == 1
    assert not parts(bench, batch)


def test_taken_out_while_it_is_being_sent(bench: Path) -> None:
    batch = begin_batch(bench)
    receiving = receive(bench, batch, announced(bench, batch, "ride.fit", 4).id)
    receiving.take(b"ride")
    take_out(bench, batch, receiving.arrival.id)
    with pytest.raises(UnknownName):
        receiving.end()
    assert not parts(bench, batch)
    assert not batch_of(bench, batch).arrivals


def test_what_a_crash_leaves_is_cleaned_and_what_is_being_sent_is_not(bench: Path) -> None:
    batch = begin_batch(bench)
    receiving = receive(bench, batch, announced(bench, batch, "ride.fit", 4).id)
    stale = bench / "incoming" / batch / "parts" / "0123abcd-0000000000-000000"
    stale.write_bytes(b"half")
    assert clean_parts(bench, batch) == 0  # it grew this moment: another program may be sending it
    assert clean_parts(bench, batch, patience_s=0) == 1
    assert parts(bench, batch) == [receiving.part]
    receiving.give_up()


def test_thrown_away_at_once_and_a_crash_in_it_is_ended_later(bench: Path) -> None:
    batch = begin_batch(bench)
    sent(bench, batch, "ride.fit", b"ride")
    throw_away(bench, batch)
    (bench / "incoming" / ".thrown-x" / "files").mkdir(parents=True)
    assert batches(bench) == []
    assert not list((bench / "incoming").glob(".thrown*"))
    with pytest.raises(UnknownName):
        batch_of(bench, batch)


@pytest.mark.parametrize("batch", ["..", "", "0123456789ab", "../../bench", "0123456789abc", "mappings"])
def test_a_batch_that_is_none(bench: Path, batch: str) -> None:
    begin_batch(bench)
    (bench / "incoming" / "mappings").mkdir()
    with pytest.raises(UnknownName):
        batch_of(bench, batch)
    with pytest.raises(UnknownName):
        throw_away(bench, batch)


@pytest.mark.parametrize("file", ["..", "", "../begun", "0123456789"])
def test_a_file_that_is_none(bench: Path, file: str) -> None:
    batch = begin_batch(bench)
    with pytest.raises(UnknownName):
        arrival_of(bench, batch, file)


def test_too_many_files_at_a_time(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(incoming, "MOST_FILES", 3)
    with pytest.raises(SettingInvalid, match="3 files"):
        announce(bench, begin_batch(bench), [Announced(name="x", size_bytes=1)] * 4)


def test_a_record_that_cannot_be_read_hides_no_other(bench: Path) -> None:
    batch = begin_batch(bench)
    sent(bench, batch, "ride.fit", b"ride")
    (bench / "incoming" / batch / "records" / "0123456789.json").write_text("{half", encoding="utf-8")
    assert [one.name for one in batch_of(bench, batch).arrivals] == ["ride.fit"]
