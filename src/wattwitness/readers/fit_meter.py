"""What a FIT file says of the meter and the recorder that wrote it.

Field numbers and device types are those of the FIT profile (read from fitdecode's tables).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wattwitness.model.recording import MeterRecord
from wattwitness.readers.words import plain_text

INDEX, TYPE, MAKER, SERIAL, PRODUCT, FIRMWARE, PRODUCT_NAME = 0, 1, 2, 3, 4, 5, 27
FILE_MAKER, FILE_PRODUCT, FILE_SERIAL, FILE_PRODUCT_NAME = 1, 2, 3, 8
POWER_METERS = ("bike_power",)
TRAINERS = ("fitness_equipment", "bike_trainer")
CREATOR = ("creator", 0)


def meter_record(devices: Sequence[Mapping[int, Any]], file_id: Mapping[int, Any], *, has_power: bool) -> MeterRecord:
    """Return the power meter's record where the file names one and holds power, else the recorder's.

    ``devices`` are device messages in the order of the file: a later one of the same device completes an earlier one.
    """
    known: dict[Any, dict[int, Any]] = {}
    for device in devices:
        known.setdefault(device.get(INDEX), {}).update(
            {key: value for key, value in device.items() if value is not None}
        )
    if has_power:
        for types in (POWER_METERS, TRAINERS):
            for device in known.values():
                if device.get(TYPE) in types:
                    return _from_device(device)
    for index in CREATOR:
        if index in known:
            return _from_device(known[index])
    return MeterRecord(
        maker=_words(file_id.get(FILE_MAKER)),
        product=_words(file_id.get(FILE_PRODUCT_NAME) or file_id.get(FILE_PRODUCT)),
        serial=_words(file_id.get(FILE_SERIAL)),
    )


def _from_device(device: Mapping[int, Any]) -> MeterRecord:
    return MeterRecord(
        maker=_words(device.get(MAKER)),
        product=_words(device.get(PRODUCT_NAME) or device.get(PRODUCT)),
        firmware=_words(device.get(FIRMWARE)),
        serial=_words(device.get(SERIAL)),
    )


def _words(value: Any) -> str:
    """A name or number as the file says it; empty where it says nothing."""
    return "" if value is None or isinstance(value, tuple | bytes) else plain_text(value).replace("_", " ")
