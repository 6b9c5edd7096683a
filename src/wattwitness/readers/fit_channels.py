"""From the fields of FIT records to channels, and the power sources among them.

Field numbers, scales and units are those of the FIT profile (read from fitdecode's tables).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Notice, Severity
from wattwitness.readers.fit_decode import (
    BALANCE,
    CADENCE,
    CADENCE_256,
    CADENCE_FRACTION,
    HEART_RATE,
    POWER,
    RESISTANCE,
    SPEED,
    SPEED_ENHANCED,
    SPEED_PACKED,
    TEMPERATURE,
    DeveloperField,
    FitContent,
)
from wattwitness.readers.words import count_of, listed

RIGHT_FLAG = 0x80
"""Set in left_right_balance where the share is the right side's; without it the side is unknown (FIT profile)."""

WATT_UNITS = frozenset({"w", "watt", "watts"})

PARTIAL_POWER = re.compile(
    r"left|right|target|goal|avg|average|mean|max|min|peak|lap|session|critical|threshold|form|air|wind|motor|battery"
    r"|accumulated|weighted|reserve|zone|ratio|percent|balance|smooth|\d+ ?s(ec)?\b",
    re.IGNORECASE,
)
"""Names of developer fields in watts that are no rider's power at the moment: shares, targets, summaries, models."""

DEVELOPER_CHANNELS: Mapping[int, ChannelName] = {
    CADENCE: ChannelName.CADENCE,
    HEART_RATE: ChannelName.HEART_RATE,
    SPEED: ChannelName.SPEED,
    SPEED_ENHANCED: ChannelName.SPEED,
    TEMPERATURE: ChannelName.TEMPERATURE,
    RESISTANCE: ChannelName.RESISTANCE,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PowerSource:
    """One series of power in a section, shape (rows,): the native one, or an application's field named in ``label``."""

    label: str
    native: bool
    power_w: FloatArray


def shared_channels(content: FitContent) -> tuple[dict[ChannelName, FloatArray], tuple[Notice, ...]]:
    """All channels of a section but power, shape (rows,) each."""
    columns = content.columns
    channels: dict[ChannelName, FloatArray] = {}
    if CADENCE in columns:
        # The fraction is written beside whole revolutions; its absence is no missing cadence.
        fraction = np.nan_to_num(columns.get(CADENCE_FRACTION, np.zeros(content.rows)))
        channels[ChannelName.CADENCE] = columns[CADENCE] + fraction / 128
    if CADENCE_256 in columns:
        _fill(channels, ChannelName.CADENCE, columns[CADENCE_256] / 256)
    for field_number, name, scale in (
        (HEART_RATE, ChannelName.HEART_RATE, 1.0),
        (SPEED_ENHANCED, ChannelName.SPEED, 1000.0),
        (SPEED, ChannelName.SPEED, 1000.0),
        (SPEED_PACKED, ChannelName.SPEED, 1000.0),
        (TEMPERATURE, ChannelName.TEMPERATURE, 1.0),
        (RESISTANCE, ChannelName.RESISTANCE, 1.0),
    ):
        if field_number in columns:
            _fill(channels, name, columns[field_number] / scale)
    for developer in content.developer_fields:
        wanted = _developer_channel(developer)
        if wanted is not None and developer.key in columns:
            _fill(channels, wanted, _scaled(developer, columns[developer.key]))
    notices: tuple[Notice, ...] = ()
    if BALANCE in columns:
        channels[ChannelName.LEFT_SHARE], notices = left_share(columns[BALANCE])
    return channels, notices


def left_share(balance: FloatArray) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Return the left side's share in percent from raw ``left_right_balance``, shape (n,).

    The lower seven bits are a share in percent; where the highest bit is set it is the right side's. Without it the
    side is not known: those values are missing, with a notice.
    """
    present = np.isfinite(balance)
    raw = np.where(present, balance, 0).astype(np.int64)
    right = present & ((raw & RIGHT_FLAG) > 0)
    share = np.where(right, 100.0 - (raw & 0x7F), np.nan)
    unknown = int(np.count_nonzero(present & ~right))
    if not unknown:
        return share, ()
    notice = Notice(
        slug="balance_side_unknown",
        message=(
            f"{count_of(unknown, 'left/right value')} {'does' if unknown == 1 else 'do'} not say which side "
            f"{'it is' if unknown == 1 else 'they are'} for; taken as missing."
        ),
        severity=Severity.NOTE,
        samples=unknown,
    )
    return share, (notice,)


def power_sources(content: FitContent) -> tuple[tuple[PowerSource, ...], tuple[Notice, ...]]:
    """Return every series of power in a section, the native one first, and a notice on those not taken.

    An application's field is a power source where the file says that it stands for the native one, or where it is in
    watts and called power, unless its name says that it is a share, a target or a summary. One that repeats an earlier
    source value for value is no second source.
    """
    sources: list[PowerSource] = []
    if POWER in content.columns and np.any(np.isfinite(content.columns[POWER])):
        sources.append(PowerSource(label="native power", native=True, power_w=content.columns[POWER]))
    repeated: list[str] = []
    passed: list[str] = []
    for developer in content.developer_fields:
        column = content.columns.get(developer.key)
        if column is None or not np.any(np.isfinite(column)):
            continue
        name = f"“{developer.name}”"
        if not is_power(developer):
            if developer.units.lower() in WATT_UNITS:
                passed.append(name)
            continue
        power_w = _scaled(developer, column)
        if any(np.array_equal(power_w, source.power_w, equal_nan=True) for source in sources):
            repeated.append(name)
            continue
        sources.append(PowerSource(label=f"developer field {name}", native=False, power_w=power_w))
    notices = []
    if repeated:
        message = (
            f"Developer field {listed(repeated)} repeats another power value for value; not taken as a second source."
        )
        notices.append(Notice(slug="power_repeated", message=message, severity=Severity.NOTE))
    if passed:
        message = f"Developer field {listed(passed)} is in watts but by its name not the rider's power; not used."
        notices.append(Notice(slug="field_not_used", message=message, severity=Severity.NOTE))
    return tuple(sources), tuple(notices)


def is_power(developer: DeveloperField) -> bool:
    """Whether an application's field is the rider's power at the moment."""
    if developer.native_field is not None:
        return developer.native_field == POWER
    name = re.sub(r"(?<=[a-z])(?=[A-Z])|[_\-.]+", " ", developer.name)
    in_watts = developer.units.lower() in WATT_UNITS
    called_power = re.search(r"power|watt", name, re.IGNORECASE) is not None
    return called_power and (in_watts or not developer.units) and not PARTIAL_POWER.search(name)


def _developer_channel(developer: DeveloperField) -> ChannelName | None:
    if developer.native_field is not None:
        return DEVELOPER_CHANNELS.get(developer.native_field)
    name, units = developer.name.lower(), re.sub(r"[^a-z]", "", developer.units.lower())
    if units == "nm" and "torque" in name:
        return ChannelName.TORQUE
    if name == "cadence" and units in ("rpm", ""):
        return ChannelName.CADENCE
    return ChannelName.RESISTANCE if name in ("resistance", "resistance level") else None


def _scaled(developer: DeveloperField, raw: FloatArray) -> FloatArray:
    return raw / developer.scale - developer.offset


def _fill(channels: dict[ChannelName, FloatArray], name: ChannelName, values: FloatArray) -> None:
    """Give ``values`` to a channel where it has none yet."""
    known = channels.get(name)
    channels[name] = values if known is None else np.where(np.isfinite(known), known, values)
