"""One section of a FIT file through fitdecode, as columns of raw numbers.

Two things keep this fast and bounded. Fields and messages that no channel needs are passed over as blocks of bytes: the
definition that fitdecode hands out is shortened before the messages that follow it are read. And values are gathered
into arrays block by block. A test holds the result against fitdecode's full reading.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wattwitness.model.arrays import FloatArray
from wattwitness.readers.words import plain_text

RECORD, EVENT, DEVICE_INFO, FILE_ID, FIELD_DESCRIPTION, DEVELOPER_ID = 20, 21, 23, 0, 206, 207
TIMESTAMP = 253
POWER, CADENCE, HEART_RATE, SPEED, SPEED_PACKED, RESISTANCE, TEMPERATURE, BALANCE = 7, 4, 3, 6, 8, 10, 13, 30
CADENCE_256, CADENCE_FRACTION, SPEED_ENHANCED = 52, 53, 73
NATIVE_FIELDS = frozenset(
    {POWER, CADENCE, HEART_RATE, SPEED, SPEED_PACKED, RESISTANCE, TEMPERATURE, BALANCE}
    | {CADENCE_256, CADENCE_FRACTION, SPEED_ENHANCED, TIMESTAMP}
)
"""Numbers of the fields of a record message that a channel is made of (FIT profile, read from fitdecode's tables)."""

DEVELOPER_BASE = 1000
"""Developer fields are keyed by this plus 256 times their application's index plus their number."""

PASSED_OVER = 999
"""The number given to blocks of bytes that are passed over."""

KEPT_WHOLE = frozenset({EVENT, DEVICE_INFO, FILE_ID, FIELD_DESCRIPTION, DEVELOPER_ID})
"""Messages that are read field by field."""

BLOCK_ROWS = 4096

MESSAGE_LIMIT = 500_000
"""A file with more messages than this is no ride (it would last some five days); the rest is left unread."""

HEADER = struct.Struct("<BBHI4s")


class Stop(Enum):
    """Why the reading of a section ended before its end."""

    NONE = "it did not"
    DAMAGE = "what followed could not be decoded"
    TOO_MANY = "more messages than any ride has"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeveloperField:
    """A field of a record that an application defined: its key among the columns, and what the file says of it."""

    key: int
    name: str
    units: str
    native_field: int | None
    scale: float
    offset: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitContent:
    """What a section holds. ``columns`` maps field numbers to raw values, shape (rows,), NaN where invalid or absent.

    ``events`` are (time stamp, event, type), time stamps in the file's own seconds. ``devices`` and ``file_id`` map
    field numbers to values. ``messages`` counts all that were read; ``stopped`` says why reading ended
    early, with ``unread_bytes`` left.
    """

    rows: int
    columns: Mapping[int, FloatArray]
    developer_fields: tuple[DeveloperField, ...]
    events: tuple[tuple[int, int, int], ...]
    devices: tuple[Mapping[int, Any], ...]
    file_id: Mapping[int, Any]
    messages: int
    stopped: Stop
    unread_bytes: int


@dataclass(slots=True)
class _Bucket:
    """Rows of one definition: which fields, which rows, and their values not yet in an array."""

    keys: tuple[int, ...]
    row_numbers: list[int] = field(default_factory=list)
    values: list[list[Any]] = field(default_factory=list)


class _Gatherer:
    """Takes in the messages of a section, one after the other."""

    def __init__(self) -> None:
        self.rows = 0
        self.developer_fields: dict[int, DeveloperField] = {}
        self.events: list[tuple[int, int, int]] = []
        self.devices: list[Mapping[int, Any]] = []
        self.file_id: Mapping[int, Any] = {}
        self._layouts: dict[int, tuple[int, ...]] = {}
        self._buckets: dict[tuple[int, bool], _Bucket] = {}
        self._blocks: dict[int, list[tuple[NDArray[np.int64], FloatArray]]] = {}

    def define(self, definition: Any) -> None:
        """Take a definition: shorten it, and remember the layout of records made by it."""
        local = definition.local_mesg_num
        for packed_time in (False, True):
            replaced = self._buckets.pop((local, packed_time), None)
            if replaced is not None:
                self._put_away(replaced)
        self._layouts.pop(local, None)
        if definition.global_mesg_num not in KEPT_WHOLE:
            keys = shorten(definition, self.developer_fields)
            if definition.global_mesg_num == RECORD:
                self._layouts[local] = keys

    def take(self, message: Any) -> int:
        """Take a data message, and return what it counts: 1, or its fields where it is read field by field."""
        layout = self._layouts.get(message.local_mesg_num)
        if layout is None:
            self._keep(message)
            return max(len(message.fields), 1)
        packed_time = message.time_offset is not None
        bucket = self._buckets.get((message.local_mesg_num, packed_time))
        if bucket is None:
            # A time stamp packed into the message's header comes after the fields of the definition.
            bucket = _Bucket(keys=(*layout, TIMESTAMP) if packed_time else layout)
            self._buckets[message.local_mesg_num, packed_time] = bucket
        bucket.row_numbers.append(self.rows)
        bucket.values.append([item.raw_value for item in message.fields])
        self.rows += 1
        if len(bucket.values) >= BLOCK_ROWS:
            self._put_away(bucket)
        return 1

    def columns(self) -> dict[int, FloatArray]:
        """All records gathered, by field number."""
        for bucket in self._buckets.values():
            self._put_away(bucket)
        columns = {}
        for key, blocks in self._blocks.items():
            column = np.full(self.rows, np.nan)
            for row_numbers, values in blocks:
                column[row_numbers] = values
            columns[key] = column
        return columns

    def _put_away(self, bucket: _Bucket) -> None:
        if not bucket.values:
            return
        row_numbers = np.array(bucket.row_numbers, dtype=np.int64)
        for key, raw in zip(bucket.keys, zip(*bucket.values, strict=True), strict=True):
            if key != PASSED_OVER:
                values = _packed_speeds(raw) if key == SPEED_PACKED else _numbers(raw)
                self._blocks.setdefault(key, []).append((row_numbers, values))
        bucket.row_numbers, bucket.values = [], []

    def _keep(self, message: Any) -> None:
        number = message.global_mesg_num
        if number == EVENT:
            raw = {item.def_num: item.raw_value for item in message.fields}
            stamp, event, kind = raw.get(TIMESTAMP), raw.get(0), raw.get(1)
            if isinstance(stamp, int) and isinstance(event, int) and isinstance(kind, int):
                self.events.append((stamp, event, kind))
        elif number == DEVICE_INFO:
            self.devices.append({item.def_num: item.value for item in message.fields})
        elif number == FILE_ID and not self.file_id:
            self.file_id = {item.def_num: item.value for item in message.fields}
        elif number == FIELD_DESCRIPTION:
            described = _described({item.def_num: item.raw_value for item in message.fields})
            if described is not None:
                self.developer_fields[described.key] = described


def decode_section(body: bytes, limit: int = MESSAGE_LIMIT) -> FitContent:
    """Decode the body of one section; what cannot be decoded ends the reading and is said, never raised.

    At most ``limit`` messages are read; one that is read field by field counts as many.
    """
    import fitdecode

    # The checksum was judged before; fitdecode is given a header of its own and two bytes in the checksum's place.
    stream = io.BytesIO(HEADER.pack(HEADER.size, 0x20, 0, len(body), b".FIT") + body + b"\0\0")
    reader = fitdecode.FitReader(
        stream,
        processor=None,
        check_crc=fitdecode.CrcCheck.DISABLED,
        error_handling=fitdecode.ErrorHandling.IGNORE,
    )
    data, definition = fitdecode.FIT_FRAME_DATA, fitdecode.FIT_FRAME_DEFINITION
    gatherer = _Gatherer()
    stopped = Stop.NONE
    messages = 0
    try:
        for frame in reader:
            if frame.frame_type == data:
                messages += gatherer.take(frame)
            elif frame.frame_type == definition:
                messages += len(frame.field_defs) + len(frame.dev_field_defs) + 1
                gatherer.define(frame)
            if messages > limit:
                stopped = Stop.TOO_MANY
                break
    except Exception:  # noqa: BLE001
        # Whatever a foreign decoder makes of damaged bytes must not cost the rows already read.
        stopped = Stop.DAMAGE
    return FitContent(
        rows=gatherer.rows,
        columns=gatherer.columns(),
        developer_fields=tuple(gatherer.developer_fields.values()),
        events=tuple(gatherer.events),
        devices=tuple(gatherer.devices),
        file_id=gatherer.file_id,
        messages=messages,
        stopped=stopped,
        unread_bytes=0 if stopped is Stop.NONE else max(len(body) + HEADER.size - stream.tell(), 0),
    )


def shorten(definition: Any, developer_fields: Mapping[int, DeveloperField]) -> tuple[int, ...]:
    """Let a definition pass over what no channel needs, and return the keys of its fields in order.

    The time stamp is kept in every message, since packed time stamps count on from it. Kept fields lose their entry in
    the profile, so that their raw values come out; developer fields get numbers of their own, so that one numbered 253
    is not taken for a time stamp. A developer field whose size is no multiple of its type's is passed over too: it
    would throw the reading of all that follows off.
    """
    from fitdecode.types import FieldDefinition

    record = definition.global_mesg_num == RECORD
    fields: list[tuple[int, Any, int]] = []
    for item in definition.field_defs:
        wanted = item.def_num == TIMESTAMP or (record and item.def_num in NATIVE_FIELDS)
        fields.append((item.def_num if wanted else PASSED_OVER, item.base_type, item.size))
    for item in definition.dev_field_defs:
        key = DEVELOPER_BASE + 256 * item.dev_data_index + item.def_num
        wanted = record and key in developer_fields and item.size % item.base_type.size == 0
        fields.append((key if wanted else PASSED_OVER, item.base_type, item.size))
    skip = _skip_type()
    shortened: list[Any] = []
    for key, base_type, size in fields:
        if key == PASSED_OVER and shortened and shortened[-1].def_num == PASSED_OVER:
            shortened[-1].size += size
        elif size:
            shortened.append(FieldDefinition(None, key, skip if key == PASSED_OVER else base_type, size))
    definition.field_defs = shortened
    definition.dev_field_defs = []
    return tuple(item.def_num for item in shortened)


def _skip_type() -> Any:
    """A type of one byte that has no value, read as one block."""
    from fitdecode.types import BaseType

    return BaseType("passed over", 0x07, "s", lambda _block: None)


def _described(raw: Mapping[int, Any]) -> DeveloperField | None:
    """Make a developer field of its description message.

    Its fields 0 and 1 are the key, 3 the name, 6 the scale, 7 the offset, 8 the units, 14 and 15 the message and field
    of the profile that it stands for.
    """
    index, number = raw.get(0), raw.get(1)
    if not isinstance(index, int) or not isinstance(number, int):
        return None
    native = raw.get(15) if raw.get(14) in (None, RECORD) else None
    scale, offset = raw.get(6), raw.get(7)
    return DeveloperField(
        key=DEVELOPER_BASE + 256 * index + number,
        name=plain_text(raw.get(3) or ""),
        units=plain_text(raw.get(8) or ""),
        native_field=native if isinstance(native, int) else None,
        scale=float(scale) if isinstance(scale, int) and scale else 1.0,
        offset=float(offset) if isinstance(offset, int) else 0.0,
    )


def _numbers(raw: tuple[Any, ...]) -> FloatArray:
    """Raw values as floats; what is no single number (a text, several numbers) is NaN."""
    try:
        values = np.array(raw, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        values = np.empty((0, 0))
    if values.ndim == 1:
        return values
    return np.array([float(item) if isinstance(item, int | float) else np.nan for item in raw])


def _packed_speeds(raw: tuple[Any, ...]) -> FloatArray:
    """Speeds in mm/s, as in the other speed fields, from three bytes that pack speed (12 bits, cm/s) and distance."""
    return np.array(
        [
            10.0 * (item[0] | (item[1] & 0x0F) << 8) if isinstance(item, tuple) and len(item) == 3 else np.nan
            for item in raw
        ]
    )
