"""What a recording is called when it is handed on. All names are invented."""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.model.private_data import PrivateFile, PrivateItem, PrivateKind
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Recording, Source
from wattwitness.workflows.anonymous import anonymous, default_labels, private_words, roles

FILE = PrivateFile(
    file_name="josefine.fit",
    items=(
        PrivateItem(
            kind=PrivateKind.NAME, where="user_profile.friendly_name", count=1, examples=("Josefine Beispiel",)
        ),
        PrivateItem(kind=PrivateKind.NAME, where="device_info.product_name", count=1, examples=("Pedal pair",)),
        PrivateItem(kind=PrivateKind.SERIAL, where="device_info.serial_number", count=2, examples=("4711", "12")),
    ),
)


def recording(product: str, message: str = "josefine.fit ends early.") -> Recording:
    """One of a file that names its owner."""
    return Recording(
        source=Source(
            file_name="josefine.fit", sha256="ab" * 32, size_bytes=1, format_name="fit", part=2, part_label="Josefine"
        ),
        time_s=np.arange(3.0),
        dated=True,
        channels={ChannelName.POWER: np.ones(3)},
        meter=MeterRecord(maker="Laboratory", product=product, firmware="1.4", serial="4711"),
        notices=(Notice(slug="truncated", message=message, about="josefine.fit"),),
    )


def handed_on(product: str = "Pedal pair", message: str = "josefine.fit ends early.") -> Recording:
    """The same as it goes into a bundle."""
    return anonymous(recording(product, message), "unit-1", "the unit", private_words([FILE]))


def test_file_name_label_part_and_serial_number_are_gone_and_samples_stay() -> None:
    """The hash of the original stays too, so that it can be told to be the same."""
    made = handed_on()
    assert (made.source.file_name, made.source.part_label, made.label) == ("unit-1.csv", "", "the unit")
    assert made.source.sha256 == "ab" * 32
    assert made.meter == MeterRecord(maker="Laboratory", product="Pedal pair", firmware="1.4", serial="")
    assert [(notice.message, notice.about) for notice in made.notices] == [("unit-1.csv ends early.", "unit-1.csv")]
    assert np.array_equal(made.channels[ChannelName.POWER], np.ones(3))


@pytest.mark.parametrize(
    "product",
    [
        "Josefine 4",
        "pair of BEISPIEL",
        "Pair 4711",
        "Anna's pedals",
        "Hans’s",
        "a@b.example",
        "Pair 123456",
        "AA:BB:CC:DD",
    ],
)
def test_a_product_that_names_somebody_or_a_number_is_left_out(product: str) -> None:
    """A word that the file gives as a person's or a number's, a possessive, an address."""
    assert handed_on(product).meter.product == ""


@pytest.mark.parametrize("product", ["Pedal pair 2", "Studio bike B", "PM-2000", "ergometer 8.1"])
def test_an_ordinary_product_stays(product: str) -> None:
    """The maker wants to know which."""
    assert handed_on(product).meter.product == product


@pytest.mark.parametrize(
    ("message", "kept"),
    [
        ("Power was taken from “Watt Josefine”.", "Power was taken from “…”."),
        ("12 samples have no power.", "12 samples have no power."),
    ],
)
def test_a_notice_quotes_nothing_of_the_file(message: str, kept: str) -> None:
    """Headings and cells may hold anything."""
    assert handed_on(message=message).notices[0].message == kept


def test_a_name_in_a_notice_takes_the_notice_s_words_with_it() -> None:
    """What is left says what kind of notice it was."""
    message = handed_on(message="Developer field josefine beispiel was used.").notices[0].message
    assert "osefine" not in message
    assert message.startswith("Truncated")


def test_two_are_the_reference_and_the_unit_and_more_are_numbered() -> None:
    """In file names and in sentences."""
    assert roles(3) == ("reference", "unit-1", "unit-2")
    assert default_labels(2) == ("the reference", "the unit")
    assert default_labels(3) == ("the reference", "unit 1", "unit 2")
