"""Private data in a FIT file: every message is read field by field, also those that no comparison needs."""

from __future__ import annotations

import io
from typing import Any

from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.fit_decode import HEADER, MESSAGE_LIMIT
from wattwitness.readers.fit_sections import split_sections
from wattwitness.readers.private_found import Found

SERIAL_WORDS = ("serial", "ant_id", "ant_device_number", "device_number", "unit_id", "bike_id", "mac")
POSITION_ENDS = ("_lat", "_long", "_latitude", "_longitude")
PERSON_MESSAGES = frozenset({"user_profile", "hrm_profile", "hr_zone", "power_zone", "zones_target", "weight_scale"})
TECHNICAL_TEXT = frozenset({("field_description", "field_name"), ("field_description", "units")})


def private_in_fit(content: bytes) -> tuple[PrivateItem, ...]:
    """All findings in the sections of a FIT file, as far as it can be decoded."""
    found = Found()
    sections, _ = split_sections(content)
    for section in sections:
        _search(content[section.body_start : section.body_end], found)
    return found.items()


def _search(body: bytes, found: Found) -> None:
    import fitdecode

    stream = io.BytesIO(HEADER.pack(HEADER.size, 0x20, 0, len(body), b".FIT") + body + b"\0\0")
    reader = fitdecode.FitReader(
        stream, check_crc=fitdecode.CrcCheck.DISABLED, error_handling=fitdecode.ErrorHandling.IGNORE
    )
    left = MESSAGE_LIMIT
    try:
        for frame in reader:
            if frame.frame_type == fitdecode.FIT_FRAME_DATA:
                left -= 1
                _message(frame, found)
            if left <= 0:
                found.add(PrivateKind.UNKNOWN, "the rest of the file, which was not searched")
                return
    except Exception:  # noqa: BLE001
        # Whatever a foreign decoder makes of damaged bytes: what comes after could not be searched, and it is said.
        found.add(PrivateKind.UNKNOWN, "the damaged rest of the file, which could not be searched")


def _message(frame: Any, found: Found) -> None:
    message = str(frame.name)
    for item in frame.fields:
        raw, name, value = item.raw_value, str(item.name), item.value
        if raw is None or raw == "":
            continue
        where = f"{message}.{name}"
        text = isinstance(raw, str)
        if not text and (name.startswith("position_") or name.endswith(POSITION_ENDS)) and abs(_number(raw)) > 255:
            found.add(PrivateKind.POSITION, where)
        elif any(word in name for word in SERIAL_WORDS):
            found.add(PrivateKind.SERIAL, where, value)
        elif text and (message, name) not in TECHNICAL_TEXT:
            found.add(PrivateKind.NAME, where, value)
        elif message in PERSON_MESSAGES and name not in ("message_index", "timestamp"):
            found.add(PrivateKind.PERSON, message, f"{name} {value}")
        elif name == "heart_rate":
            found.add(PrivateKind.HEART, where)
        elif name in ("timestamp", "time_created", "start_time", "local_timestamp"):
            found.add(PrivateKind.TIME, where)
        elif name.startswith("unknown_") or message.startswith("unknown_"):
            found.add(PrivateKind.UNKNOWN, "all messages", message)


def _number(raw: Any) -> float:
    """A raw number; 0 for what is none. Settings that only look like positions by their name are small."""
    return float(raw) if isinstance(raw, int | float) else 0.0
