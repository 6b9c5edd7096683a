"""The bytes of a FIT file: header, definitions, messages, checksum.

Layout after the FIT protocol (from memory, and held in the tests against two independent decoders).
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

PROTOCOL = 0x20
PROFILE = 2132
EPOCH_UTC_S = 631_065_600
"""1989-12-31 00:00 UTC, from which FIT counts seconds."""
_LANES = 512


@dataclass(frozen=True, slots=True)
class _Kind:
    """A base type: its number in a definition, its numpy code, and what stands for “no value”."""

    number: int
    code: str
    missing: float


class Base(Enum):
    """The base types used here."""

    ENUM = _Kind(0x00, "u1", 0xFF)
    SINT8 = _Kind(0x01, "i1", 0x7F)
    UINT8 = _Kind(0x02, "u1", 0xFF)
    UINT16 = _Kind(0x84, "<u2", 0xFFFF)
    UINT32 = _Kind(0x86, "<u4", 0xFFFFFFFF)
    STRING = _Kind(0x07, "S1", 0)
    FLOAT32 = _Kind(0x88, "<f4", math.nan)
    BYTE = _Kind(0x0D, "u1", 0xFF)

    @property
    def size(self) -> int:
        """Bytes of one value."""
        return np.dtype(self.value.code).itemsize


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A field of a message: its number in the profile, type, and one value."""

    number: int
    base: Base
    value: int | float | str | bytes

    def encoded(self) -> bytes:
        """The value's bytes; texts end with a zero byte."""
        if isinstance(self.value, str):
            return _cut(self.value, 60) + b"\0"
        if isinstance(self.value, bytes):
            return self.value
        return np.array([self.value], dtype=self.base.value.code).tobytes()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """A field of many messages: shape (n,) values, already in the file's own whole numbers, NaN where missing.

    ``developer``: the number is that of a developer field of application 0.
    """

    number: int
    base: Base
    values: NDArray[np.float64]
    developer: bool = False

    def encoded(self) -> NDArray[np.generic]:
        """The values in the base type, with its sign for “no value”."""
        if self.base is Base.FLOAT32:
            return self.values.astype(self.base.value.code)
        kind = np.dtype(self.base.value.code)
        low, high = (-127, 126) if kind.kind == "i" else (0, int(self.base.value.missing) - 1)
        with np.errstate(invalid="ignore"):
            rounded = np.floor(self.values + 0.5)
            held = (rounded >= low) & (rounded <= high)
        return np.where(held, rounded, self.base.value.missing).astype(kind)


def message(local: int, number: int, fields: tuple[Field, ...]) -> bytes:
    """A definition and its one message."""
    encoded = [field.encoded() for field in fields]
    definition = struct.pack("<BBBHB", 0x40 | local, 0, 0, number, len(fields))
    for field, value in zip(fields, encoded, strict=True):
        definition += bytes((field.number, len(value), field.base.value.number))
    return definition + bytes((local,)) + b"".join(encoded)


def table_definition(local: int, number: int, columns: tuple[Column, ...]) -> bytes:
    """The definition of the messages of a table."""
    native = [column for column in columns if not column.developer]
    own = [column for column in columns if column.developer]
    head = struct.pack("<BBBHB", 0x40 | local | (0x20 if own else 0), 0, 0, number, len(native))
    head += b"".join(bytes((column.number, column.base.size, column.base.value.number)) for column in native)
    if own:
        head += bytes((len(own),)) + b"".join(bytes((column.number, column.base.size, 0)) for column in own)
    return head


def table_messages(local: int, columns: tuple[Column, ...]) -> NDArray[np.void]:
    """One message a row, shape (n,), ready for ``tobytes``; native fields first, as the definition has them."""
    ordered = sorted(columns, key=lambda column: column.developer)
    layout = [("local", "u1"), *((f"field{place}", column.base.value.code) for place, column in enumerate(ordered))]
    rows = np.empty(columns[0].values.size, dtype=np.dtype(layout))
    rows["local"] = local
    for place, column in enumerate(ordered):
        rows[f"field{place}"] = column.encoded()
    return rows


def whole_file(body: bytes) -> bytes:
    """Header, body and checksums."""
    head = struct.pack("<BBHI4s", 14, PROTOCOL, PROFILE, len(body), b".FIT")
    content = head + struct.pack("<H", checksum(head)) + body
    return content + struct.pack("<H", checksum(content))


def checksum(content: bytes) -> int:
    """CRC-16 with the reflected polynomial 0xA001, starting at 0 (check value 0xBB3D of "123456789").

    The content is laid in rows that are worked through side by side. As the sum starts at 0 it is linear, so the rows'
    sums are joined by moving each on by the length of a row; zeros before the content change nothing.
    """
    table = _table()
    length = -(-len(content) // _LANES)
    rows = np.frombuffer(content.rjust(_LANES * length, b"\0"), dtype=np.uint8).reshape(_LANES, length)
    sums = np.zeros(_LANES, dtype=np.uint16)
    moved = np.arange(256, dtype=np.uint16), np.arange(256, dtype=np.uint16) << np.uint16(8)
    for place in range(length):
        sums = (sums >> 8) ^ table[(sums ^ rows[:, place]) & 0xFF]
    low, high = (_moved_on(part, length, table) for part in moved)
    total = 0
    for lane in sums.tolist():
        total = int(low[total & 0xFF]) ^ int(high[total >> 8]) ^ lane
    return total


def _moved_on(sums: NDArray[np.uint16], length: int, table: NDArray[np.uint16]) -> NDArray[np.uint16]:
    for _ in range(length):
        sums = (sums >> 8) ^ table[sums & 0xFF]
    return sums


@lru_cache(maxsize=1)
def _table() -> NDArray[np.uint16]:
    table = np.arange(256, dtype=np.uint16)
    for _ in range(8):
        table = np.where(table & 1, (table >> 1) ^ 0xA001, table >> 1).astype(np.uint16)
    return table


def _cut(text: str, size: int) -> bytes:
    """UTF-8 of ``text`` in at most ``size`` bytes, cut between characters, without zero bytes."""
    return text.replace("\0", "").encode("utf-8", "replace")[:size].decode("utf-8", "ignore").encode()
