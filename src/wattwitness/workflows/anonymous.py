"""Recordings and meter files as they may be handed on: called by their role, without serial numbers and names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from wattwitness.model.evidence import REFERENCE, unit_role
from wattwitness.model.private_data import PrivateFile, PrivateKind
from wattwitness.model.recording import MeterRecord, Notice, Recording
from wattwitness.model.setup import MeterFile
from wattwitness.workflows.meters import Meters

LEAST_LETTERS = 4
"""Shorter words stand in too much that names nobody."""

LEAST_IN_A_SENTENCE = 6
"""So do these in sentences of ours, which hold no more of a file than a few quoted words."""

MADE_BY = ("product_name", "creator > name", "author > name", "sport", "language")
"""Places whose text is about a product, not a person."""

OF_A_PERSON = ("friendly_name", "athlete", "rider", "user", "owner")
_SOMEBODY_S = re.compile(r"['’`]s\b|s['’`]\s|@|\d{6,}|\b(?:[0-9A-Fa-f]{2}[:-]){3,}")
"""A possessive, an address, a long number, an address of a radio: a make and model have none of these."""

_QUOTED = re.compile(r"“[^”]*”")


def roles(count: int) -> tuple[str, ...]:
    """What the recordings of a comparison are called as files: ``reference``, ``unit-1``, …"""
    return (REFERENCE, *(unit_role(place) for place in range(1, count)))


def default_labels(count: int) -> tuple[str, ...]:
    """What they are called in sentences."""
    if count == 2:
        return ("the reference", "the unit")
    return ("the reference", *(f"unit {place}" for place in range(1, count)))


def private_words(files: Sequence[PrivateFile]) -> frozenset[str]:
    """Words, in lower case, that name a person or device in the originals, and must not be handed on."""
    found: set[str] = set()
    for file in files:
        for item in file.items:
            about_product = any(place in item.where for place in MADE_BY)
            if item.kind is PrivateKind.SERIAL or (item.kind is PrivateKind.NAME and not about_product):
                found.update(item.examples)
                if any(place in item.where.lower() for place in OF_A_PERSON):
                    found.update(word for text in item.examples for word in text.split())
    return frozenset(word.casefold() for word in found if len(word) >= LEAST_LETTERS)


def anonymous(recording: Recording, role: str, label: str, private: frozenset[str]) -> Recording:
    """The recording called by its role; its samples, and the hash of the file it came from, as they are."""
    meter = recording.meter
    source = recording.source
    return replace(
        recording,
        source=replace(source, file_name=f"{role}.csv", part_label=""),
        meter=MeterRecord(
            maker=_harmless(meter.maker, private),
            product=_harmless(meter.product, private),
            firmware=_harmless(meter.firmware, private),
        ),
        notices=tuple(_notice(notice, source.file_name, f"{role}.csv", private) for notice in recording.notices),
        label=label,
    )


def _harmless(text: str, private: frozenset[str]) -> str:
    """The text, or nothing where a private word stands in it, or what looks like somebody's or like a number of one."""
    named = any(word in text.casefold() for word in private)
    return "" if named or _SOMEBODY_S.search(text) else text


def _notice(notice: Notice, file_name: str, role_name: str, private: frozenset[str]) -> Notice:
    """A notice without words quoted from the file."""
    message = _QUOTED.sub("“…”", notice.message.replace(file_name, role_name))
    if any(word in message.casefold() for word in private if len(word) >= LEAST_IN_A_SENTENCE):
        message = f"{notice.slug.replace('_', ' ').capitalize()}; the words are left out, since they name something."
    return replace(notice, message=message, about=role_name)


def anonymous_meters(meters: Meters, count: int) -> Meters:
    """The descriptions without the meters' names, file names and free text on sources."""
    names = roles(count)
    return Meters(
        reference=_meter(meters.reference, names[0]),
        units=tuple(_meter(meters.unit(place), names[place + 1]) for place in range(count - 1)),
    )


def _meter(meter: MeterFile | None, role: str) -> MeterFile | None:
    if meter is None:
        return None
    stated = {name: replace(item, source="") for name, item in meter.stated.items()}
    return replace(meter, name="", source=f"{role}.toml", stated=stated)
