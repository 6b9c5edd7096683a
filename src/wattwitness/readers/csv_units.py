"""Units in the headings and cells of tables, and their factors to the units of a recording."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_time_kinds import TimeKind

LEFT = ChannelName.LEFT_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A unit of one channel: ``value_in_ours = factor * value + offset``; ``symbol`` is how it is written in words."""

    symbol: str
    factor: float = 1.0
    offset: float = 0.0

    @property
    def is_ours(self) -> bool:
        """Whether nothing has to be converted."""
        return self.factor == 1.0 and self.offset == 0.0


OUR_SYMBOL: Mapping[ChannelName, str] = {
    ChannelName.POWER: "W",
    ChannelName.CADENCE: "rpm",
    ChannelName.HEART_RATE: "bpm",
    ChannelName.TORQUE: "N·m",
    ChannelName.RESISTANCE: "",
    ChannelName.SPEED: "m/s",
    ChannelName.TEMPERATURE: "°C",
    ChannelName.LEFT_SHARE: "%",
}

_FOOT_POUND_NM = 0.3048 * 4.4482216152605
_INCH_POUND_NM = 0.0254 * 4.4482216152605

_SPELLINGS: tuple[tuple[ChannelName, Unit, str], ...] = (
    (ChannelName.POWER, Unit(symbol="W"), "w watt watts"),
    (ChannelName.POWER, Unit(symbol="kW", factor=1000.0), "kw kilowatt kilowatts"),
    (ChannelName.POWER, Unit(symbol="hp", factor=745.6998715822702), "hp bhp"),
    (
        ChannelName.CADENCE,
        Unit(symbol="rpm"),
        "rpm r/min rev/min revs/min 1/min /min min-1 min^-1 u/min umdr/min tr/min omw/min o/min",
    ),
    (ChannelName.CADENCE, Unit(symbol="revolutions per second", factor=60.0), "rps r/s rev/s revs/s hz"),
    (
        ChannelName.HEART_RATE,
        Unit(symbol="bpm"),
        "bpm beats/min 1/min /min min-1 min^-1 b/min s/min batt/min lpm slag/min",
    ),
    (
        ChannelName.TORQUE,
        Unit(symbol="N·m"),
        "nm n-m n*m newtonmeter newtonmetre newton-metre newtonmeters newtonmetres",
    ),
    (
        ChannelName.TORQUE,
        Unit(symbol="lbf·ft", factor=_FOOT_POUND_NM),
        "lbfft lbf-ft ftlb ft-lb ftlbf ft-lbf ftlbs ft-lbs lbft lb-ft",
    ),
    (
        ChannelName.TORQUE,
        Unit(symbol="lbf·in", factor=_INCH_POUND_NM),
        "lbfin lbf-in inlb in-lb inlbf in-lbf inlbs in-lbs lbin lb-in",
    ),
    (ChannelName.TORQUE, Unit(symbol="kgf·m", factor=9.80665), "kgm kg-m kgfm kgf-m kpm kp-m"),
    (ChannelName.TORQUE, Unit(symbol="N·cm", factor=0.01), "ncm n-cm"),
    (ChannelName.SPEED, Unit(symbol="m/s"), "m/s mps ms-1 meter/s"),
    (ChannelName.SPEED, Unit(symbol="km/h", factor=1 / 3.6), "km/h kmh kph kmph km/hr"),
    (ChannelName.SPEED, Unit(symbol="mph", factor=0.44704), "mph mi/h miles/h m/h mi/hr"),
    (ChannelName.SPEED, Unit(symbol="ft/s", factor=0.3048), "ft/s fps"),
    (ChannelName.SPEED, Unit(symbol="kn", factor=1852 / 3600), "kn kt kts knots"),
    (ChannelName.TEMPERATURE, Unit(symbol="°C"), "c °c ºc degc deg-c celsius"),
    (ChannelName.TEMPERATURE, Unit(symbol="°F", factor=5 / 9, offset=-160 / 9), "f °f ºf degf deg-f fahrenheit"),
    (ChannelName.TEMPERATURE, Unit(symbol="K", offset=-273.15), "k kelvin"),
    (ChannelName.LEFT_SHARE, Unit(symbol="%"), "% pct percent prozent"),
    (ChannelName.LEFT_SHARE, Unit(symbol="fraction", factor=100.0), "fraction 0-1 0..1"),
    (ChannelName.RESISTANCE, Unit(symbol=""), "% pct percent level"),
)

UNITS: Mapping[ChannelName, Mapping[str, Unit]] = {
    channel: {word: unit for owner, unit, words in _SPELLINGS if owner is channel for word in words.split()}
    for channel in ChannelName
}

TIME_UNITS: Mapping[str, TimeKind] = {
    word: kind
    for kind, words in (
        (TimeKind.SECONDS, "s sec secs second seconds sek sekunde sekunden seg segundos secondes secondi seconden"),
        (TimeKind.MILLISECONDS, "ms msec msecs millisecond milliseconds millis millisekunden"),
        (TimeKind.MICROSECONDS, "us µs μs usec microsecond microseconds micros"),
        (TimeKind.MINUTES, "min mins minute minutes minuten minutos minuti"),
        (TimeKind.HOURS, "h hr hrs hour hours std stunden heures horas ore uur"),
        (TimeKind.DAYS, "d day days tage jours dias"),
        (TimeKind.ELAPSED, "mm:ss m:ss mm:ss.s min:sec min:s"),
        (TimeKind.CLOCK, "hh:mm"),
    )
    for word in words.split()
}

_ALONE: Mapping[str, ChannelName] = {
    "w": ChannelName.POWER,
    "kw": ChannelName.POWER,
    "watt": ChannelName.POWER,
    "watts": ChannelName.POWER,
    "rpm": ChannelName.CADENCE,
    "bpm": ChannelName.HEART_RATE,
    "nm": ChannelName.TORQUE,
    "km/h": ChannelName.SPEED,
    "kmh": ChannelName.SPEED,
    "kph": ChannelName.SPEED,
    "mph": ChannelName.SPEED,
    "m/s": ChannelName.SPEED,
    "mps": ChannelName.SPEED,
    "°c": ChannelName.TEMPERATURE,
    "°f": ChannelName.TEMPERATURE,
}
"""Units that tell the quantity by themselves."""


def unit_key(text: str) -> str:
    """A unit as it is looked up: lower case, without blanks, points or dots between its parts."""
    key = re.sub(r"[\s.·⋅•∙]", "", text.strip().lower())
    return key.replace("⁻¹", "-1").replace("per", "/") if key not in ("percent",) else key


def unit_of(channel: ChannelName, text: str) -> Unit | None:
    """The unit of ``channel`` that ``text`` names; None if it names none."""
    return UNITS[channel].get(unit_key(text))


def channel_of_unit(text: str) -> ChannelName | None:
    """The only channel that a unit can belong to, where it is as good as a name."""
    return _ALONE.get(unit_key(text))


def is_unit(text: str) -> bool:
    """Whether the text names a unit of any channel, of time, or of what tables hold besides (distance, energy)."""
    key = unit_key(text)
    if key in TIME_UNITS or any(key in units for units in UNITS.values()):
        return True
    return key in _OTHER_UNITS or re.fullmatch(r"[hmsdy][hmsdyf:./\- ]{2,}", text.strip().lower()) is not None


_OTHER_UNITS = frozenset("km mi miles m ft kcal cal kj j wh kg deg ° bar w/kg -".split())
