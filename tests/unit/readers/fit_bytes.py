"""A small writer of FIT bytes, in either byte order and with faults on demand. Layout from memory of the FIT protocol;
``test_fit_decode.py`` reads what it writes with fitdecode alone."""

from __future__ import annotations

import struct
from collections.abc import Sequence

from fitdecode.utils import compute_crc

RECORD, EVENT, DEVICE_INFO, FILE_ID, DEVELOPER_ID, FIELD_DESCRIPTION = 20, 21, 23, 0, 207, 206
UINT8, SINT8, UINT16, UINT32, STRING, FLOAT32, BYTE, ENUM = 0x02, 0x01, 0x84, 0x86, 0x07, 0x88, 0x0D, 0x00
CODES = {UINT8: "B", SINT8: "b", UINT16: "H", UINT32: "I", FLOAT32: "f", ENUM: "B"}
SIZES = {UINT8: 1, SINT8: 1, UINT16: 2, UINT32: 4, FLOAT32: 4, BYTE: 1, ENUM: 1}

START = 1_100_000_000
"""A FIT time stamp in 2024."""
UNIX_START = START + 631_065_600

Field = tuple[int, int]
"""Number and base type."""


def definition(
    local: int,
    message: int,
    fields: Sequence[tuple[int, int, int]],
    developer: Sequence[tuple[int, int, int]] = (),
    order: str = "<",
) -> bytes:
    """``fields`` are (number, size, base type), ``developer`` (number, size, application index)."""
    header = 0x40 | local | (0x20 if developer else 0)
    out = struct.pack(f"{order}BBBHB", header, 0, int(order == ">"), message, len(fields))
    out += b"".join(bytes(field) for field in fields)
    if developer:
        out += bytes([len(developer)]) + b"".join(bytes(field) for field in developer)
    return out


def data(local: int, layout: str, *values: object, order: str = "<") -> bytes:
    return bytes([local]) + struct.pack(order + layout, *values)


def simple(message: int, values: Sequence[tuple[int, int, int | bytes]], local: int = 15, order: str = "<") -> bytes:
    """One message with its own definition; (number, base type, value)."""
    fields = []
    body = b""
    for number, base, value in values:
        raw = value if isinstance(value, bytes) else struct.pack(order + CODES[base], value)
        fields.append((number, len(raw), base))
        body += raw
    return definition(local, message, fields, order=order) + bytes([local]) + body


def file_id(created: int = START, serial: int = 7) -> bytes:
    return simple(
        FILE_ID,
        [(0, ENUM, 4), (1, UINT16, 255), (2, UINT16, 3), (3, 0x8C, struct.pack("<I", serial)), (4, UINT32, created)],
    )


def timer(stamp: int, kind: int) -> bytes:
    return simple(EVENT, [(253, UINT32, stamp), (0, ENUM, 0), (1, ENUM, kind)])


def developer_field(
    number: int, name: bytes, units: bytes, base: int = UINT16, extra: Sequence[tuple[int, int, int]] = ()
) -> bytes:
    values: list[tuple[int, int, int | bytes]] = [
        (0, UINT8, 0),
        (1, UINT8, number),
        (2, UINT8, base),
        (3, STRING, name + b"\0"),
        (8, STRING, units + b"\0"),
        *extra,
    ]
    return simple(FIELD_DESCRIPTION, values)


APPLICATION = simple(DEVELOPER_ID, [(3, UINT8, 0)])


def powers(values: Sequence[int], start: int = START, order: str = "<", local: int = 0) -> bytes:
    """One record a second with power and cadence 80."""
    out = definition(local, RECORD, [(253, 4, UINT32), (7, 2, UINT16), (4, 1, UINT8)], order=order)
    return out + b"".join(data(local, "IHB", start + i, value, 80, order=order) for i, value in enumerate(values))


def fit_file(body: bytes, *, long_header: bool = True, size: int | None = None, bad_crc: bool = False) -> bytes:
    length = len(body) if size is None else size
    header = struct.pack("<BBHI4s", 14 if long_header else 12, 0x20, 2132, length, b".FIT")
    if long_header:
        header += struct.pack("<H", compute_crc(header))
    crc = compute_crc(header + body)
    return header + body + struct.pack("<H", crc ^ (0xFFFF if bad_crc else 0))
